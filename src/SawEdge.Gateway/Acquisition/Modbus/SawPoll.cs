using System.Runtime.CompilerServices;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>
/// Polls one saw: reads its registers one request right after the other and puts the frame into its inbox. A frame carries
/// every mapped signal: delivered, or marked <see cref="SignalQuality.SourceFault"/>. When a poll delivers nothing at all, one
/// frame of source faults says so, and no further one follows until something is delivered again: an outage is a gap, not a
/// row of invented frames.
/// </summary>
internal sealed class SawPoll
{
    /// <summary>How long a mapping that the device refuses is left out before it is asked for again.</summary>
    public static readonly TimeSpan RefusalPause = TimeSpan.FromSeconds(30);

    private readonly SawInbox _inbox;
    private readonly FrameClock _clock;
    private readonly TimeProvider _time;
    private readonly ISawPollListener _listener;
    private readonly IRawValueObserver? _observer;
    private readonly IReadOnlyList<SignalDecoder> _signals;
    private readonly ModbusSourceOptions _source;
    private readonly int _maximumGap;
    private List<PlannedRead> _reads;
    private SignalFrame _frame;
    private bool _isSilent;
    private bool _hasDelivered;

    public SawPoll(ModbusSourceOptions source, int maximumGap, SawInbox inbox, FrameClock clock, TimeProvider time, ISawPollListener listener, IRawValueObserver? observer = null)
    {
        _source = source;
        _maximumGap = maximumGap;
        _inbox = inbox;
        _clock = clock;
        _time = time;
        _listener = listener;
        _observer = observer;
        _signals = [.. source.Signals.Select(mapping => new SignalDecoder(mapping))];
        _reads = ReadPlan.Merge(_signals, maximumGap);
    }

    /// <summary>Requests that one poll makes at present.</summary>
    public int Requests => _reads.Count;

    /// <summary>Whether a protocol gateway says that the unit behind it cannot be reached.</summary>
    public static bool IsAboutTheUnit(ModbusExceptionCode code) =>
        code is ModbusExceptionCode.GatewayPathUnavailable or ModbusExceptionCode.GatewayTargetDeviceFailedToRespond;

    /// <summary>Polls once.</summary>
    /// <returns>What went wrong with the saw as a whole, or null: the last exception, refused mappings not counted.</returns>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    public async ValueTask<ModbusException?> PollAsync(IModbusReader reader, CancellationToken cancellation)
    {
        Begin();
        ModbusException? trouble = null;
        var isTakenAgain = false;
        for (var i = 0; i < _reads.Count; i++)
        {
            var read = _reads[i];
            var started = _time.GetTimestamp();
            if (read.RefusedUntil is { } until && started < until)
                continue;
            try
            {
                await read.ReadAsync(reader, _source.Unit, cancellation);
            }
            catch (ModbusDeviceException e) when (IsAboutTheRange(e.Code))
            {
                _listener.RequestFailed();
                if (Refuse(i, e))
                    i--;
                continue;
            }
            catch (ModbusDeviceException e) when (!IsAboutTheUnit(e.Code))
            {
                _listener.RequestFailed();
                trouble = e;
                continue;
            }
            catch (ModbusException e)
            {
                // The unit, or the whole device, does not answer: the other requests would wait in vain as well.
                _listener.RequestFailed();
                trouble = e;
                break;
            }

            Deliver(read, started);
            isTakenAgain |= Take(read);
        }

        if (isTakenAgain)
            JoinAgain();
        _observer?.PollEnded(_reads.Count);
        Offer();
        return trouble;
    }

    /// <summary>Says that nothing is delivered, because the device cannot be reached; once for an outage.</summary>
    public void MarkOutage()
    {
        Begin();
        Offer();
    }

    private void Begin()
    {
        _hasDelivered = false;
        _frame = new SignalFrame(_clock.Now);
        foreach (var signal in _signals)
            _frame.Mark(signal.Mapping.Signal, SignalQuality.SourceFault);
    }

    private void Deliver(PlannedRead read, long started)
    {
        // The controller sampled its values somewhere between question and answer; half way is never off by more than half.
        if (!_hasDelivered)
            _frame.Time = _clock.Between(started, _time.GetTimestamp());
        _hasDelivered = true;
        _observer?.RequestAnswered(_time.GetElapsedTime(started));
        read.Decode(ref _frame, _observer);
    }

    private void Offer()
    {
        if (_hasDelivered || !_isSilent)
            _inbox.Offer(_frame);
        _isSilent = !_hasDelivered;
    }

    /// <summary>Puts two smaller reads in the place of one that the device refuses, or leaves it out for a while.</summary>
    /// <returns>Whether there is something in its place to be read now.</returns>
    private bool Refuse(int index, ModbusDeviceException refusal)
    {
        var read = _reads[index];
        var isNew = read.RefusedUntil is null;
        if (isNew && refusal.Code != ModbusExceptionCode.IllegalFunction && ReadPlan.TrySplit(read, out var first, out var second))
        {
            _reads[index] = first;
            _reads.Insert(index + 1, second);
            return true;
        }

        read.RefusedUntil = _time.GetTimestamp() + (long)(RefusalPause.TotalSeconds * _time.TimestampFrequency);
        if (isNew)
            _listener.SignalsRefused(read.Signals, refusal);
        return false;
    }

    private bool Take(PlannedRead read)
    {
        if (read.RefusedUntil is null)
            return false;
        read.RefusedUntil = null;
        _listener.SignalsTaken(read.Signals);
        return true;
    }

    /// <summary>What was refused is there again, so the joins that were given up for its sake may work again too.</summary>
    private void JoinAgain()
    {
        var refused = _reads.Where(read => read.RefusedUntil is not null).ToList();
        var others = _signals.Except(refused.SelectMany(read => read.Signals));
        _reads = [.. ReadPlan.Merge(others, _maximumGap), .. refused];
    }

    private static bool IsAboutTheRange(ModbusExceptionCode code) =>
        code is ModbusExceptionCode.IllegalFunction or ModbusExceptionCode.IllegalDataAddress or ModbusExceptionCode.IllegalDataValue;

}

/// <summary>Hears what happens while a saw is polled.</summary>
internal interface ISawPollListener
{
    /// <summary>A request brought no values.</summary>
    void RequestFailed();

    /// <summary>The device refuses these signals; said once.</summary>
    void SignalsRefused(IReadOnlyList<SignalDecoder> signals, ModbusDeviceException refusal);

    /// <summary>The device delivers these signals that it refused before.</summary>
    void SignalsTaken(IReadOnlyList<SignalDecoder> signals);
}
