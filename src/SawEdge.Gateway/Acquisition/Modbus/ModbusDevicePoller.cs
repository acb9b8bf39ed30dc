using Microsoft.Extensions.Logging;
using Polly;
using Polly.Retry;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>
/// Polls one Modbus device for all saws behind it, over one connection: whichever saw has been due longest comes next. The
/// time of a frame is half way between question and answer of its first request (<see cref="IModbusReader.SampledAt"/>), by the <see cref="FrameClock"/>.
/// </summary>
/// <remarks>
/// <para>A device that cannot be reached is tried again at growing, jittered intervals. A saw that does not answer behind a
/// device that can be reached is left alone for a while, so that it does not take the others' time. A mapping that the device
/// refuses is left out. Each of these is said once when it begins and once when it ends.</para>
/// <para>When nothing is delivered, each saw concerned gets one frame whose signals are all marked
/// <see cref="SawEdge.Core.Signals.SignalQuality.SourceFault"/>, and then none until something is delivered again.</para>
/// </remarks>
public sealed class ModbusDevicePoller : ISawSource
{
    private static readonly TimeSpan FirstReconnect = TimeSpan.FromMilliseconds(500);
    private static readonly TimeSpan LongestReconnect = TimeSpan.FromSeconds(30);

    private readonly ModbusDeviceOptions _device;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly FrameClock _clock;
    private readonly PollOrders _orders = new();
    private readonly ResiliencePipeline _reconnect;
    private PolledSaw[] _saws;
    private int _turn = -1;
    private long? _awaySince;

    /// <summary>Prepares to poll; <see cref="RunAsync"/> does it.</summary>
    /// <param name="device">The device.</param>
    /// <param name="saws">The saws behind it, each with the inbox that takes its frames.</param>
    /// <param name="clock">The time of frames; one for the whole gateway, on the same time provider.</param>
    /// <param name="time">Schedule, timeouts and pauses.</param>
    /// <param name="logger">Takes the messages.</param>
    /// <param name="observer">Sees what the saws' registers hold, or null: for a person who looks at one saw.</param>
    /// <exception cref="ArgumentException">A saw is not read from this device, or a mapping cannot be read.</exception>
    public ModbusDevicePoller(
        ModbusDeviceOptions device,
        IReadOnlyList<(SawOptions Saw, SawInbox Inbox)> saws,
        FrameClock clock,
        TimeProvider time,
        ILogger<ModbusDevicePoller> logger,
        IRawValueObserver? observer = null)
    {
        ArgumentOutOfRangeException.ThrowIfZero(saws.Count);
        _device = device;
        _clock = clock;
        _time = time;
        _logger = logger;
        _saws = [.. saws.Select((saw, i) => new PolledSaw(device, saw.Saw, saw.Inbox, clock, time, logger, observer, (double)i / saws.Count))];
        _reconnect = new ResiliencePipelineBuilder { TimeProvider = time }
            .AddRetry(new RetryStrategyOptions
            {
                ShouldHandle = new PredicateBuilder().Handle<ModbusConnectionException>(),
                MaxRetryAttempts = int.MaxValue,
                BackoffType = DelayBackoffType.Exponential,
                UseJitter = true,
                Delay = FirstReconnect,
                MaxDelay = LongestReconnect,
                OnRetry = attempt =>
                {
                    BeginOutage(attempt.Outcome.Exception);
                    ModbusLog.ConnectingFailed(logger, device.Name, attempt.Outcome.Exception?.Message ?? "");
                    foreach (var saw in _saws!)
                        saw.Inbox.Errors.Count(SourceError.Connection);
                    return default;
                },
            })
            .Build();
    }

    /// <summary>What polling came to so far, by the saw's name.</summary>
    public IReadOnlyDictionary<string, PollCounters> Counters => Volatile.Read(ref _saws).ToDictionary(saw => saw.Name, saw => saw.Counters, StringComparer.Ordinal);

    /// <inheritdoc/>
    string ISawSource.What => $"polling of {_device.Name}";

    /// <summary>Whether the device cannot be reached at present.</summary>
    public bool IsAway => _awaySince is not null;

    /// <inheritdoc/>
    PollCounters? ISawSource.CountersOf(string saw) => Array.Find(Volatile.Read(ref _saws), polled => polled.Name == saw)?.Counters;

    /// <inheritdoc/>
    Task ISawSource.AddAsync(SawOptions saw, SawInbox inbox, CancellationToken cancellation)
    {
        var polled = new PolledSaw(_device, saw, inbox, _clock, _time, _logger, observer: null, phase: 0);
        return _orders.AddAsync(
            now =>
            {
                polled.Begin(now);
                Exchange([.. _saws, polled]);
                ModbusLog.PollingStarts(_logger, _device.Name, _device.Endpoint, SawNames());
                if (IsAway)
                    polled.MarkOutage();
            },
            cancellation);
    }

    /// <inheritdoc/>
    Task ISawSource.RemoveAsync(string saw, CancellationToken cancellation) => _orders.AddAsync(
        _ =>
        {
            foreach (var polled in _saws.Where(polled => polled.Name == saw))
                polled.Inbox.Complete();
            Exchange([.. _saws.Where(polled => polled.Name != saw)]);
        },
        cancellation);

    /// <summary>Polls until it is stopped, then says in each inbox that no frame will follow.</summary>
    /// <param name="stop">Stops it; the task then ends without an exception.</param>
    public async Task RunAsync(CancellationToken stop)
    {
        await using var reader = ModbusReaders.Open(_device, _time);
        ModbusLog.PollingStarts(_logger, _device.Name, _device.Endpoint, SawNames());
        try
        {
            await PollAsync(reader, stop);
        }
        catch (Exception e) when (stop.IsCancellationRequested && e is OperationCanceledException or ModbusException)
        {
            // Stopping is no failure, and neither is a device that is lost in the same moment.
        }
        finally
        {
            _orders.End();
            foreach (var saw in _saws)
                saw.Inbox.Complete();
        }
    }

    private async Task PollAsync(IModbusReader reader, CancellationToken stop)
    {
        long? began = null;
        while (true)
        {
            stop.ThrowIfCancellationRequested();

            // The schedule begins with the first connection, so that what could not be polled before counts as nothing missed.
            var wake = _orders.Take(began is { } since ? _time.GetElapsedTime(since) : TimeSpan.Zero, stop);
            try
            {
                if (began is null)
                    await ConnectAsync(reader, wake);
                await PollAsync(reader, began ??= _time.GetTimestamp(), wake, stop);
            }
            catch (OperationCanceledException) when (wake.IsCancellationRequested && !stop.IsCancellationRequested)
            {
                // Saws come or go.
            }
        }
    }

    // Polls until there is something else to be done: that never breaks a poll off, but a pause, and the wait for a device that is away.
    private async Task PollAsync(IModbusReader reader, long started, CancellationToken wake, CancellationToken stop)
    {
        while (!wake.IsCancellationRequested)
        {
            var saw = LongestDue();
            await WaitAsync(saw.Due - _time.GetElapsedTime(started), wake);
            await ConnectAsync(reader, wake);
            var begun = _time.GetElapsedTime(started);
            var late = begun - saw.Due;
            PollMetrics.Lateness.Record(late.TotalMilliseconds);
            saw.Counters.CountLateness(late);
            var wasSilent = Array.TrueForAll(_saws, static each => each.IsSilent);
            if (await saw.PollAsync(reader, stop) is { } trouble)
            {
                // A lost connection is the device's trouble where it cannot be made again at once, and the saw's where it can.
                var wasAway = trouble is ModbusConnectionException && await ConnectAsync(reader, wake);
                if (!wasAway)
                    saw.BeginTrouble(trouble);
            }

            var now = _time.GetElapsedTime(started);
            saw.Advance(now);
            PollMetrics.Duration.Record((now - begun).TotalMilliseconds);
            if (wasSilent && !saw.IsSilent)
                RecallOthers(now);
        }
    }

    private void Exchange(PolledSaw[] saws)
    {
        _turn = -1;
        Volatile.Write(ref _saws, saws);
    }

    /// <summary>Where nobody answered and one does again, it was the way to all of them: none has to wait until its pause is over.</summary>
    private void RecallOthers(TimeSpan now)
    {
        foreach (var saw in _saws)
            saw.Recall(now);
    }

    /// <summary>Whoever has been due longest; among equals the one whose turn comes after the latest.</summary>
    private PolledSaw LongestDue()
    {
        var longest = (_turn + 1) % _saws.Length;
        for (var i = 2; i <= _saws.Length; i++)
        {
            var next = (_turn + i) % _saws.Length;
            if (_saws[next].Due < _saws[longest].Due)
                longest = next;
        }

        _turn = longest;
        return _saws[longest];
    }

    private Task WaitAsync(TimeSpan time, CancellationToken stop) => time > TimeSpan.Zero
        ? Task.Delay(TimeSpan.FromMilliseconds(Math.Ceiling(time.TotalMilliseconds)), _time, stop)
        : Task.CompletedTask;

    /// <summary>Makes the connection where there is none, however long it takes.</summary>
    /// <returns>Whether the device was away, that is, the first attempt failed.</returns>
    private async ValueTask<bool> ConnectAsync(IModbusReader reader, CancellationToken stop)
    {
        if (reader.IsConnected)
            return false;
        await _reconnect.ExecuteAsync(static (state, cancellation) => state.ConnectAsync(cancellation), reader, stop);
        return EndOutage();
    }

    private void BeginOutage(Exception? reason)
    {
        if (_awaySince is not null)
            return;
        _awaySince = _time.GetTimestamp();
        ModbusLog.DeviceIsAway(_logger, _device.Name, SawNames(), reason?.Message ?? "", LongestReconnect.TotalSeconds);
        foreach (var saw in _saws)
            saw.MarkOutage();
    }

    private bool EndOutage()
    {
        if (_awaySince is not { } since)
            return false;
        _awaySince = null;
        ModbusLog.DeviceIsBack(_logger, _device.Name, _time.GetElapsedTime(since).TotalSeconds);
        return true;
    }

    private string SawNames() => string.Join(", ", _saws.Select(saw => saw.Name));
}
