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
/// <remarks>
/// What is read less often than each time holds its value in between. All of it is read at once where nothing is held, at the start and
/// after the unit or the device was away; from then on the reads take turns, so that no poll has to make them all.
/// </remarks>
internal sealed class SawPoll
{
    /// <summary>How long a mapping that the device refuses is left out before it is asked for again.</summary>
    public static readonly TimeSpan RefusalPause = TimeSpan.FromSeconds(30);

    private readonly SawInbox _inbox;
    private readonly FrameClock _clock;
    private readonly TimeProvider _time;
    private readonly ISawPollListener _listener;
    private readonly IRawValueObserver? _observer;
    private readonly SignalDecoder[] _signals;
    private readonly ModbusSourceOptions _source;
    private readonly int _maximumGap;
    private readonly double _phase;
    private List<PlannedRead> _reads;
    private SignalFrame _frame;
    private bool _isSilent;
    private bool _hasDelivered;

    /// <summary>Prepares to poll.</summary>
    /// <param name="source">What is read.</param>
    /// <param name="maximumGap">Registers not asked for that may be read along.</param>
    /// <param name="inbox">Takes the frames.</param>
    /// <param name="clock">The time of frames.</param>
    /// <param name="time">The same clock for durations.</param>
    /// <param name="listener">Hears what happens.</param>
    /// <param name="observer">Sees what comes, or null.</param>
    /// <param name="phase">0 up to 1, another for each saw of a device: spreads what they read less often.</param>
    public SawPoll(ModbusSourceOptions source, int maximumGap, SawInbox inbox, FrameClock clock, TimeProvider time, ISawPollListener listener, IRawValueObserver? observer = null, double phase = 0)
    {
        _source = source;
        _maximumGap = maximumGap;
        _inbox = inbox;
        _clock = clock;
        _time = time;
        _listener = listener;
        _observer = observer;
        _phase = phase;
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
        var requests = 0;
        for (var i = 0; i < _reads.Count; i++)
        {
            var read = _reads[i];
            if (!IsDue(read))
                continue;
            requests++;
            var started = _time.GetTimestamp();
            try
            {
                await read.ReadAsync(reader, _source.Unit, cancellation);
            }
            catch (ModbusDeviceException e) when (IsAboutTheRange(e.Code))
            {
                _listener.RequestFailed(e);
                if (Refuse(i, e))
                    i--;
                continue;
            }
            catch (ModbusDeviceException e) when (!IsAboutTheUnit(e.Code))
            {
                _listener.RequestFailed(e);
                read.IsHeld = false;
                trouble = e;
                continue;
            }
            catch (ModbusException e)
            {
                // The unit, or the whole device, does not answer: the other requests would wait in vain as well.
                _listener.RequestFailed(e);
                DropHeld();
                trouble = e;
                break;
            }

            Deliver(read, reader.SampledAt, started);
            isTakenAgain |= Take(read);
        }

        if (requests == 0 || _hasDelivered)
            Hold();
        if (isTakenAgain)
            JoinAgain();
        _observer?.PollEnded(requests);
        Offer();
        return trouble;
    }

    /// <summary>Says that nothing is delivered, because the device cannot be reached; once for an outage.</summary>
    public void MarkOutage()
    {
        Begin();
        DropHeld();
        Offer();
    }

    private void Begin()
    {
        _hasDelivered = false;
        _frame = new SignalFrame(_clock.Now);
        foreach (var signal in _signals)
            _frame.Mark(signal.Mapping.Signal, SignalQuality.SourceFault);
    }

    private void Deliver(PlannedRead read, long sampledAt, long started)
    {
        if (!_hasDelivered)
            _frame.Time = _clock.At(sampledAt);
        _hasDelivered = true;
        _observer?.RequestAnswered(_time.GetElapsedTime(started));
        read.Decode(ref _frame, _observer);
        if (read.Every is { } every)
            Schedule(read, every);
    }

    private bool IsDue(PlannedRead read)
    {
        var now = _time.GetTimestamp();
        return read.RefusedUntil is { } until ? now >= until : !read.IsHeld || now >= read.DueAt;
    }

    /// <summary>When a read that is not made each time is due again: on its own grid; after a time without a value, so that all such reads are spread.</summary>
    private void Schedule(PlannedRead read, TimeSpan every)
    {
        var now = _time.GetTimestamp();
        var ticks = every.TotalSeconds * _time.TimestampFrequency;
        if (!read.IsHeld)
        {
            var slow = _reads.Where(other => other.Every is not null).ToList();
            read.DueAt = now + (long)(ticks * (slow.IndexOf(read) + 1 - _phase) / slow.Count);
        }
        else
        {
            read.DueAt = Math.Max(read.DueAt + (long)ticks, now);
        }

        read.IsHeld = true;
    }

    /// <summary>Puts in what was not due.</summary>
    private void Hold()
    {
        foreach (var read in _reads)
        {
            if (!read.IsHeld || read.RefusedUntil is not null)
                continue;
            read.Decode(ref _frame, null);
            _hasDelivered = true;
        }
    }

    private void DropHeld()
    {
        foreach (var read in _reads)
            read.IsHeld = false;
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
        read.IsHeld = false;
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
    void RequestFailed(ModbusException reason);

    /// <summary>The device refuses these signals; said once.</summary>
    void SignalsRefused(IReadOnlyList<SignalDecoder> signals, ModbusDeviceException refusal);

    /// <summary>The device delivers these signals that it refused before.</summary>
    void SignalsTaken(IReadOnlyList<SignalDecoder> signals);
}
