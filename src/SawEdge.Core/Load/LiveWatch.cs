using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Cutting;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Load;

/// <summary>
/// Decides on the running signal what cannot wait for the end of the cut: overload, stall, blade gone, no contact, load after
/// breakthrough, frozen signal. Rather says nothing than something wrong: what a section, a hold, a motor's start or a missing
/// signal explains as well is no finding. Deterministic, no clock; allocates only what it finds; one instance a saw.
/// </summary>
/// <remarks>It is no safety device: it sees late, and may see wrongly.</remarks>
public sealed partial class LiveWatch
{
    /// <summary>Longest inrush of a blade motor: what comes sooner after a start says nothing.</summary>
    private const long InrushTicks = 3 * TimeSpan.TicksPerSecond;

    private const long BitHoldTicks = 5 * TimeSpan.TicksPerSecond;
    private const long StaleTicks = 3 * TimeSpan.TicksPerSecond / 2;

    /// <summary>Frames behind the last one that must rise among themselves before a set-back clock is believed.</summary>
    private const int ProofOfStep = 3;

    private const int MostJobs = 32;
    private const int EnoughCuts = 2;

    private readonly SawMachine _machine;
    private readonly LiveWindow _window = new();
    private readonly Queue<LiveFinding> _findings = new(8);
    private readonly List<JobLoad> _jobs = [];
    private bool _loadScatters;

    private long _ticks = long.MinValue;
    private long _usualTicks = TimeSpan.TicksPerSecond / 10;
    private long _behindTicks;
    private int _behind;

    private bool? _bladeOn;
    private long _bladeReadAt;
    private long _bladeSince;
    private bool _loadWasOff;

    private double _load = double.NaN;
    private long _loadTicks;
    private double _head = double.NaN;
    private double _head1 = double.NaN;
    private double _head2 = double.NaN;
    private long _headTicks;
    private double _headNoise;
    private double _speed = double.NaN;
    private Now _place = Nowhere;

    /// <summary>Builds the watch of one saw.</summary>
    /// <param name="machine">The saw.</param>
    public LiveWatch(SawMachine machine)
    {
        _machine = machine;
        BeginCycle();
    }

    /// <summary>Takes a frame. One that was seen before or comes late is left out; a gap makes the watch begin anew.</summary>
    /// <param name="frame">The frame.</param>
    /// <param name="context">What else is known at this moment.</param>
    public void Push(in SignalFrame frame, in LiveContext context)
    {
        var ticks = frame.Time.UtcTicks;
        if (!Follows(ticks))
            return;
        if (context.Cycle != _cycle)
        {
            Learn(context);
            BeginCycle();
            _cycle = context.Cycle;
        }

        ReadBlade(frame, ticks);
        var loadRead = ReadLoad(frame, ticks, context);
        var headRead = ReadHead(frame, ticks);
        if (!context.CycleOpen || !(loadRead || headRead) || double.IsNaN(_load))
            return;

        var now = Place(frame.Time, ticks, loadRead, headRead, context);
        _place = now;
        if (loadRead)
            WatchOverload(now, context);
        if (!double.IsNaN(now.IdleKw))
        {
            FollowContact(now);
            if (headRead)
            {
                WatchBladeGone(now, context);
                WatchStall(now);
                WatchNoContact(now, context);
                WatchAfterBreakthrough(now, context);
            }
        }

        if (loadRead)
            WatchFrozenLoad(now);
        if (headRead)
        {
            WatchFrozenHead(now);
            _window.Add(ticks, _head, _head1, _load);
        }
    }

    /// <summary>How far the cut of the open cycle is, as of the last frame.</summary>
    public LiveCut Cut
    {
        get
        {
            var height = _place.Section?.HeightMm ?? double.NaN;
            var lowest = _place.TopMm - _lowestMm;
            return new LiveCut(
                _contact && _contactAtTicks > 0 ? new DateTimeOffset(_contactAtTicks, TimeSpan.Zero) : null,
                _place.Section is null || double.IsNaN(_head) ? double.NaN : _place.DepthMm,
                _contact || lowest > 0 ? Math.Clamp(lowest / height, 0, 1) : double.NaN,
                _head <= _lowestMm + LeavingMm,
                _place.IdleKw);
        }
    }

    /// <summary>Takes the next finding, oldest first. At most one of each kind a cycle.</summary>
    public bool TryTake([NotNullWhen(true)] out LiveFinding? finding) => _findings.TryDequeue(out finding);

    /// <summary>What must survive a restart. It changes only when a cycle ends: with it and the frames since the open cycle began, the same is found again.</summary>
    public LiveWatchMemory Save() => new() { LoadScatters = _loadScatters, Jobs = [.. _jobs] };

    /// <summary>Continues from what <see cref="Save"/> gave; before the first frame.</summary>
    /// <param name="memory">What was saved.</param>
    public void Restore(LiveWatchMemory memory)
    {
        _loadScatters = memory.LoadScatters;
        _jobs.Clear();
        _jobs.AddRange(memory.Jobs);
    }

    private static double Seconds(long ticks) => (double)ticks / TimeSpan.TicksPerSecond;

    private bool Follows(long ticks)
    {
        if (ticks > _ticks)
        {
            var distance = _ticks == long.MinValue ? long.MaxValue : ticks - _ticks;
            if (distance > Math.Max(2 * TimeSpan.TicksPerSecond, 5 * _usualTicks))
                ForgetMotion(ticks);
            _usualTicks += (Math.Min(distance, 2 * _usualTicks) - _usualTicks) / 4;
            _ticks = ticks;
            _behind = 0;
            return true;
        }

        if (ticks == _ticks)
            return false;
        _behind = _behind > 0 && ticks > _behindTicks ? _behind + 1 : 1;
        _behindTicks = ticks;
        if (_behind < ProofOfStep)
            return false;
        ForgetMotion(ticks);
        _behind = 0;
        _ticks = ticks;
        return true;
    }

    // What came before says nothing of now: nobody saw whether the blade was started meanwhile.
    private void ForgetMotion(long ticks)
    {
        _window.Clear();
        _head = _head1 = _head2 = _load = _speed = double.NaN;
        _bladeOn = null;
        _bladeSince = ticks;
        _loadWasOff = false;
        _contactReadings = 0;
        _contactAtTicks = 0;
        _place = Nowhere;
        _contact = false;
        _afterGap = true;
        ForgetCandidates();
    }

    private void ReadBlade(in SignalFrame frame, long ticks)
    {
        if (frame.Has(Signal.BladeSpeed))
            _speed = frame.Number(Signal.BladeSpeed);
        if (frame.Flag(Signal.BladeRunning) is { } on)
        {
            if (on && _bladeOn == false)
                _bladeSince = ticks;
            _bladeOn = on;
            _bladeReadAt = ticks;
        }
        else if (ticks - _bladeReadAt > BitHoldTicks)
        {
            _bladeOn = null;
        }
    }

    private bool ReadLoad(in SignalFrame frame, long ticks, in LiveContext context)
    {
        if (!frame.Has(Signal.MotorLoad))
        {
            if (ticks - _loadTicks > StaleTicks)
                _load = double.NaN;
            return false;
        }

        var load = frame.Number(Signal.MotorLoad);

        // Where no bit tells, a load that comes from nearly nothing is a start.
        var off = 0.3 * context.IdleLoadKw;
        if (load < (double.IsNaN(off) ? 0.02 * (_machine.LoadLimitKw ?? 0) : off))
            _loadWasOff = true;
        else if (_loadWasOff)
            (_loadWasOff, _bladeSince) = (false, _bladeOn is null ? ticks : _bladeSince);
        FollowScatter(load, ticks);
        _load = load;
        _loadTicks = ticks;
        return true;
    }

    // The median of three: one glitch moves nothing.
    private bool ReadHead(in SignalFrame frame, long ticks)
    {
        if (!frame.Has(Signal.HeadPosition))
        {
            if (ticks - _headTicks > StaleTicks)
                _head = _head1 = _head2 = double.NaN;
            return false;
        }

        var head = frame.Number(Signal.HeadPosition);
        FollowHeadStand(head, ticks);
        var a = double.IsNaN(_head2) ? head : _head2;
        var b = double.IsNaN(_head1) ? head : _head1;

        // A straight line has no second difference, noise of deviation s one of 1.95 s in the mean.
        _headNoise += (Math.Min(0.5, Math.Abs(head - (2 * b) + a) / 1.95) - _headNoise) / 32;
        _head2 = _head1;
        _head1 = head;
        _head = Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), head));
        _headTicks = ticks;
        return true;
    }

    private void Find(LiveFindingKind kind, in Now now, double value, double limit, string words)
    {
        _found |= 1 << (int)kind;
        _findings.Enqueue(new LiveFinding(kind, now.At, value, limit, words));
    }

    private bool Found(LiveFindingKind kind) => (_found & (1 << (int)kind)) != 0;
}
