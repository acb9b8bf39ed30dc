using System.Runtime.CompilerServices;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>One saw of a device: its schedule, its counters, and what was said about it so far.</summary>
internal sealed class PolledSaw : ISawPollListener
{
    private readonly SawOptions _saw;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly SawPoll _poll;
    private PollSchedule _schedule;
    private readonly Lag _lag = new();
    private int _failures;
    private long? _troubleSince;

    public PolledSaw(ModbusDeviceOptions device, SawOptions saw, SawInbox inbox, FrameClock clock, TimeProvider time, ILogger logger, IRawValueObserver? observer, double phase)
    {
        if (saw.Source is not ModbusSourceOptions source || source.Device != device.Name)
            throw new ArgumentException($"Saw {saw.Name} is not read from the Modbus device {device.Name}.", nameof(saw));
        _saw = saw;
        _time = time;
        _logger = logger;
        _poll = new SawPoll(source, device.MaximumGap, inbox, inbox.Clock ?? clock, time, this, observer, phase);
        _schedule = new PollSchedule(saw.Interval);
        Inbox = inbox;
    }

    public string Name => _saw.Name;

    public SawInbox Inbox { get; }

    public PollCounters Counters { get; } = new();

    /// <summary>When the saw is due, since the start.</summary>
    public TimeSpan Due => _schedule.Due;

    /// <summary>Whether the unit did not answer when it was asked last.</summary>
    public bool IsSilent => _failures > 0;

    /// <summary>Is due from now on: a saw that comes when others are polled already has missed nothing.</summary>
    /// <param name="now">Now, since the start.</param>
    public void Begin(TimeSpan now) => _schedule = new PollSchedule(_saw.Interval, now);

    /// <summary>Polls once.</summary>
    /// <returns>What went wrong with the saw as a whole, or null.</returns>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    public async ValueTask<ModbusException?> PollAsync(IModbusReader reader, CancellationToken cancellation)
    {
        Counters.CountPoll();
        var trouble = await _poll.PollAsync(reader, cancellation);
        var isReached = trouble is null || (trouble is ModbusDeviceException refusal && !SawPoll.IsAboutTheUnit(refusal.Code));
        _failures = isReached ? 0 : _failures + 1;
        if (trouble is null)
            EndTrouble();
        return trouble;
    }

    /// <summary>Goes on to the next slot.</summary>
    /// <param name="now">Now, since the start.</param>
    public void Advance(TimeSpan now)
    {
        var missed = _schedule.Advance(now, PollPause.After(_failures));
        Counters.CountMisses(missed);
        if (missed > 0)
            PollMetrics.Missed.Add(missed);
        if (_failures > 0)
            return;
        switch (_lag.Observe(missed))
        {
            case Lag.Change.Begins:
                ModbusLog.PollingIsBehind(_logger, Name, _saw.Interval.TotalMilliseconds);
                break;
            case Lag.Change.Ends:
                ModbusLog.PollingIsInTime(_logger, Name, _saw.Interval.TotalMilliseconds, _lag.Missed);
                break;
        }
    }

    /// <summary>Ends the pause of a unit that did not answer: there is reason to think that it may now.</summary>
    /// <param name="now">Now, since the start.</param>
    public void Recall(TimeSpan now)
    {
        if (IsSilent)
            Counters.CountMisses(-_schedule.Recall(now));
    }

    /// <summary>Says what is wrong, unless it was said already.</summary>
    public void BeginTrouble(ModbusException trouble)
    {
        if (_troubleSince is not null)
            return;
        _troubleSince = _time.GetTimestamp();
        ModbusLog.SawTroubleBegins(_logger, Name, trouble.Message);
    }

    /// <summary>Marks the signals bad because the device cannot be reached.</summary>
    public void MarkOutage() => _poll.MarkOutage();

    void ISawPollListener.RequestFailed(ModbusException reason)
    {
        Counters.CountError();
        Inbox.Errors.Count(SourceError.Request);
        ModbusLog.RequestFailed(_logger, Name, reason.Message);
    }

    void ISawPollListener.SignalsRefused(IReadOnlyList<SignalDecoder> signals, ModbusDeviceException refusal) =>
        ModbusLog.SignalIsRefused(_logger, Name, Names(signals), refusal.Message, SawPoll.RefusalPause.TotalSeconds);

    void ISawPollListener.SignalsTaken(IReadOnlyList<SignalDecoder> signals) => ModbusLog.SignalIsTaken(_logger, Name, Names(signals));

    private void EndTrouble()
    {
        if (_troubleSince is not { } since)
            return;
        _troubleSince = null;
        ModbusLog.SawTroubleEnds(_logger, Name, _time.GetElapsedTime(since).TotalSeconds);
    }

    private static string Names(IReadOnlyList<SignalDecoder> signals) => string.Join(", ", signals.Select(signal => SignalInfo.Of(signal.Mapping.Signal).Name));
}
