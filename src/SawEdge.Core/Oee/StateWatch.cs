using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Oee;

/// <summary>
/// Follows what one saw is doing, frame by frame, and tells each stretch of time when it is over. One that lasts is told every
/// <see cref="Report"/> as far as it was seen, so that a power cut costs no more than that: what comes later with the same begin takes its
/// place. A frame holds until the next, but where frames stay away the time between is unknown. Deterministic, no clock;
/// allocates nothing per frame unless a segment is told. Not thread safe.
/// </summary>
public sealed class StateWatch
{
    /// <summary>How long a bit that is not read in every frame holds: as in <see cref="CycleDetector"/>.</summary>
    private const long HoldTicks = 5 * TimeSpan.TicksPerSecond;

    /// <summary>Frames behind the last one that must rise among themselves before a clock is believed to have been set back.</summary>
    private const int ProofOfStep = 3;

    /// <summary>A load below this share of the idle load is that of a blade that stands. Common practice, no source.</summary>
    private const double StandingShare = 0.5;

    /// <summary>A mode by which a controller says that the saw is switched off.</summary>
    private const string OffMode = "off";

    private static readonly Signal[] Telling = [Signal.CycleActive, Signal.HeadPosition, Signal.MotorLoad, Signal.Cutting, Signal.BladeRunning];

    private readonly Queue<StateSegment> _told = new();
    private Key _now;
    private long _from;
    private long _lastSeen = long.MinValue;
    private long _toldTo;
    private long _usual = TimeSpan.TicksPerSecond / 10;
    private long _lastDistance;
    private int _evenFrames;
    private int _behind;
    private long _lastBehind;
    private Bit _cycle;
    private Bit _blade;
    private double _loadKw = double.NaN;
    private long _loadAt;
    private long _fault;
    private long _lastFault;
    private long _standingFault;
    private bool _halted;
    private bool _isOff;
    private string _job = "";

    /// <summary>How often a segment that lasts is told as far as it was seen.</summary>
    public TimeSpan Report { get; init; } = TimeSpan.FromMinutes(1);

    /// <summary>What the saw is doing as of the last frame; unknown before the first.</summary>
    public TimelineState State => _lastSeen == long.MinValue ? TimelineState.Unknown : _now.State;

    /// <summary>Since when, as far as it was seen; null before the first frame.</summary>
    public DateTimeOffset? Since => _lastSeen == long.MinValue ? null : new DateTimeOffset(_from, TimeSpan.Zero);

    /// <summary>How long a frame holds: when nothing follows for longer, what the saw does is unknown.</summary>
    public TimeSpan Holds => new(CutAnalysis.GapLimit(_usual));

    /// <summary>The fault code for which it is out of service; 0: none.</summary>
    public long Fault => _lastSeen == long.MinValue || _now.State != TimelineState.OutOfService ? 0 : _now.Fault;

    /// <summary>The segment that is not over yet, as far as it was seen; null before the first frame.</summary>
    public StateSegment? Open => _lastSeen == long.MinValue ? null : ToSegment(_from, _lastSeen, _now);

    /// <summary>Takes a frame.</summary>
    /// <param name="frame">The frame; one of a time that was seen already is passed over.</param>
    /// <param name="phase">What the detector says after it took the frame.</param>
    /// <param name="idleKw">Load with the blade in air, as learned, kW; NaN: not known.</param>
    public void Push(in SignalFrame frame, CyclePhase phase, double idleKw = double.NaN)
    {
        // A frame in which nothing usable stands shows that a source lives, not what the saw does.
        ReadTexts(frame);
        if (!Tells(frame))
            return;
        var at = frame.Time.UtcTicks;
        if (_lastSeen != long.MinValue && at <= _lastSeen)
        {
            if (!WasSetBack(at))
                return;
            Finish(_lastSeen);
            (_lastSeen, _lastDistance, _evenFrames) = (long.MinValue, 0, 0);
        }

        _behind = 0;
        Read(frame, at);
        var gap = _lastSeen != long.MinValue && FollowsGap(at - _lastSeen);
        var key = Decide(phase, idleKw);
        if (_lastSeen == long.MinValue)
        {
            Begin(at, key);
        }
        else if (gap)
        {
            Finish(_lastSeen);
            _told.Enqueue(ToSegment(_lastSeen, at, default));
            Begin(at, key);
        }
        else if (key != _now)
        {
            Finish(at);
            Begin(at, key);
        }

        _lastSeen = at;
        if (at - _toldTo >= Report.Ticks)
            Finish(at);
    }

    /// <summary>Tells what is open as far as it was seen, as before a stop.</summary>
    public void Complete()
    {
        if (_lastSeen != long.MinValue)
            Finish(_lastSeen);
    }

    /// <summary>Continues after the last segment that an earlier run told; before the first frame. The time until then is unknown unless frames go on at once.</summary>
    public void Restore(StateSegment last)
    {
        _now = new Key(last.State, last.State == TimelineState.OutOfService ? FaultOf(last.Reason) : 0, last.Job);
        (_from, _lastSeen, _toldTo) = (last.From.UtcTicks, last.To.UtcTicks, last.To.UtcTicks);
        (_job, _fault, _lastFault) = (last.Job, _now.Fault, _now.Fault);
    }

    /// <summary>Segments that wait for <see cref="TryTake"/>.</summary>
    public int Waiting => _told.Count;

    /// <summary>Takes the next segment, oldest first; it takes the place of one with the same begin.</summary>
    public bool TryTake([NotNullWhen(true)] out StateSegment? segment) => _told.TryDequeue(out segment);

    private static bool Tells(in SignalFrame frame)
    {
        foreach (var signal in Telling)
        {
            if (frame.Has(signal))
                return true;
        }

        return false;
    }

    private static StateSegment ToSegment(long from, long to, Key key) =>
        new(new DateTimeOffset(from, TimeSpan.Zero), new DateTimeOffset(to, TimeSpan.Zero), key.State, ReasonOf(key), key.Job ?? "");

    private static string ReasonOf(Key key) => key.State switch
    {
        TimelineState.OutOfService => string.Create(CultureInfo.InvariantCulture, $"fault {key.Fault}"),
        TimelineState.NotAvailable => "switched off",
        _ => "",
    };

    private static long FaultOf(string reason) =>
        reason.StartsWith("fault ", StringComparison.Ordinal) && long.TryParse(reason.AsSpan(6), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var code) ? code : 0;

    private void Read(in SignalFrame frame, long at)
    {
        _cycle.Read(frame.Flag(Signal.CycleActive), at);
        _blade.Read(frame.Flag(Signal.BladeRunning), at);
        if (frame.Has(Signal.MotorLoad))
            (_loadKw, _loadAt) = (frame.Number(Signal.MotorLoad), at);
        else if (at - _loadAt > HoldTicks)
            _loadKw = double.NaN;
    }

    private void ReadTexts(in SignalFrame frame)
    {
        if (frame.Has(Signal.FaultCode))
            _fault = (long)frame.Number(Signal.FaultCode);
        if (frame.Text(Signal.Mode) is { } mode)
            _isOff = mode.Equals(OffMode, StringComparison.OrdinalIgnoreCase);
        _job = frame.Text(Signal.Job) ?? _job;
    }

    private Key Decide(CyclePhase phase, double idleKw)
    {
        if (_fault != _lastFault)
            (_lastFault, _standingFault, _halted) = (_fault, 0, false);
        var bladeStands = _blade.Value is { } runs ? !runs : _loadKw < idleKw * StandingShare;
        var inCycle = _cycle.Value ?? (phase == CyclePhase.Cycle && !bladeStands);
        var faulted = _fault != 0 && _fault != _standingFault;

        // A fault that comes in the cycle and stops the blade holds the cycle up, also where the controller keeps its cycle bit.
        _halted = faulted && bladeStands && inCycle && (_halted || _now.State == TimelineState.Executing);
        var executing = inCycle && !_isOff && !_halted;

        // With this code a cycle could begin, so it is a message that stands and keeps nobody from working.
        if (executing && _now.State != TimelineState.Executing)
            _standingFault = _fault;
        return executing ? new Key(TimelineState.Executing, 0, _job)
            : _isOff ? new Key(TimelineState.NotAvailable, 0, _job)
            : faulted ? new Key(TimelineState.OutOfService, _fault, _job)
            : new Key(TimelineState.NotExecuting, 0, _job);
    }

    private void Begin(long at, Key key) => (_from, _toldTo, _now) = (at, at, key);

    private void Finish(long to)
    {
        if (to > _from && to > _toldTo)
            _told.Enqueue(ToSegment(_from, to, _now));
        _toldTo = to;
    }

    // Frames that come seldom but evenly are no gaps: after a few of them their distance is the usual one. As in CycleDetector.
    private bool FollowsGap(long distance)
    {
        _evenFrames = Math.Abs(distance - _lastDistance) <= distance / 4 ? _evenFrames + 1 : 0;
        _lastDistance = distance;
        if (_evenFrames >= 3 && distance > _usual)
            _usual = distance;
        if (distance > CutAnalysis.GapLimit(_usual))
            return true;
        _usual += (distance - _usual) / 16;
        return false;
    }

    private bool WasSetBack(long at)
    {
        _behind = _behind > 0 && at > _lastBehind ? _behind + 1 : 1;
        _lastBehind = at;
        return _behind >= ProofOfStep;
    }

    /// <summary>What makes a stretch of time one.</summary>
    private readonly record struct Key(TimelineState State, long Fault, string? Job);

    /// <summary>A bit that is not read in every frame holds for a while.</summary>
    private struct Bit
    {
        private long _readAt;

        public bool? Value { get; private set; }

        public void Read(bool? value, long at)
        {
            if (value is not null)
                (Value, _readAt) = (value, at);
            else if (at - _readAt > HoldTicks)
                Value = null;
        }
    }
}
