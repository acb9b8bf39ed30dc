using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Cycles;

/// <summary>What the detector takes the saw to be doing.</summary>
public enum CyclePhase : byte
{
    /// <summary>No frame yet.</summary>
    Unknown,

    /// <summary>Between cycles.</summary>
    Idle,

    /// <summary>In a cycle: handling, approach, cut or return.</summary>
    Cycle,

    /// <summary>In a cycle whose cycle bit fell with the head in the stock: waiting to see whether the cut is taken up again.</summary>
    Stopped,
}

/// <summary>
/// Turns the frames of one saw into finished cycles. Works from the controller's bits, from head and load alone, or
/// both, whatever each frame brings. While a cycle runs it only follows where it begins and ends; contact,
/// breakthrough, holds and outcome are read from the whole trace once it is over (<see cref="CutAnalysis"/>).
/// Deterministic; one instance a saw; not thread safe.
/// </summary>
public sealed partial class CycleDetector
{
    private const float DescentMm = (float)CycleNow.DescentMm;
    private const float ReturnMm = (float)CycleNow.ReturnMm;
    private const long BitHoldTicks = 5 * TimeSpan.TicksPerSecond;
    private const long UnseenTicks = 2 * TimeSpan.TicksPerSecond;
    private const long IdleTraceTicks = 60 * TimeSpan.TicksPerSecond;

    private readonly FrameOrder _order = new();
    private readonly CycleTrace _trace = new();
    private readonly PartCounter _counter = new();
    private readonly Queue<Cut> _ready = new(4);
    private readonly HeldFlag _cycleBit = new();
    private readonly HeldFlag _cuttingBit = new();
    private readonly HeldFlag _bladeBit = new();

    private long _lastTicks = long.MinValue;
    private long _usualTicks = TimeSpan.TicksPerSecond / 10;
    private long _lastDistance;
    private int _evenFrames;
    private long _fault;
    private double _idleKw = double.NaN;
    private double _bottomMm = double.NaN;
    private double _bottomDoubtMm = double.NaN;
    private double _usualCutSeconds = double.NaN;
    private double _usualTailSeconds = double.NaN;
    private string _usualJob = "";
    private string _mode = "";
    private string _job = "";
    private string _barId = "";
    private string _bladeId = "";
    private string _lastCutBarId = "";

    /// <summary>Whether the first cut of a bar is a trim cut where the part counter does not tell.</summary>
    public bool FirstCutOfBarIsTrim { get; init; }

    /// <summary>The section of a job in the vise: tells where the blade is in air and where in the stock. Asked a few times a cycle.</summary>
    public Func<string, StockShape> Stock { get; init; } = _ => StockShape.Unknown;

    /// <summary>Length of the blade loop with which a job is cut, mm, or NaN where it is not known.</summary>
    public Func<string, double> BladeLengthMm { get; init; } = _ => double.NaN;

    /// <summary>What the saw is doing.</summary>
    public CyclePhase Phase => _lastTicks == long.MinValue ? CyclePhase.Unknown : !_open ? CyclePhase.Idle : _stopTicks > 0 ? CyclePhase.Stopped : CyclePhase.Cycle;

    /// <summary>Whether a cycle is open, or a finished one still waits for the part counter: frames so far are needed to rebuild it.</summary>
    public bool HasOpenEnds => _open || _settling is not null;

    /// <summary>
    /// Whether no frame up to now can turn out to be of a cycle that is not finished: there was one, nothing is open, and the head has not begun to
    /// go down. A saw whose head was parked lower rests again after a minute or two.
    /// </summary>
    public bool RestsBetweenCycles => _lastTicks != long.MinValue && !HasOpenEnds && !(_head1 < IdleTop - StandsMm);

    /// <summary>Time of the first frame that is needed to rebuild what is open, as <see cref="HasOpenEnds"/> says; null: none is.</summary>
    public DateTimeOffset? NeededFrom => _settling is not null ? _settlingFrom : _open && _trace.Count > 0 ? ToTime(_trace.Samples[0].Ticks) : null;

    /// <summary>Where the open cycle begins, as far as is known by now; null between cycles.</summary>
    internal DateTimeOffset? OpenSince => _open ? ToTime(_startTicks) : null;

    /// <summary>Whether a finished cycle still waits for the part counter.</summary>
    internal bool IsSettling => _settling is not null;

    /// <summary>The job at the controller as last read, or empty.</summary>
    public string Job => _job;

    /// <summary>Frames left out because they had been seen before or came too late.</summary>
    public long DroppedFrames => _order.Dropped;

    /// <summary>Number of the open cycle, from 1 on in this run; 0 between cycles. Another number is another cycle.</summary>
    internal long OpenCycle => _open ? _cycles : 0;

    /// <summary>The job of the open cycle; between cycles the job at the controller.</summary>
    internal string OpenJob => _open ? _cycleJob : _job;

    /// <summary>Load with the blade in air as learned, kW; NaN where none was learned yet.</summary>
    internal double IdleKw => _idleKw;

    /// <summary>Head height at breakthrough as learned, mm; NaN where none was learned yet.</summary>
    internal double BottomMm => _bottomMm;

    /// <summary>Whether the last frame was taken: it was no duplicate and not late.</summary>
    internal bool TookLast { get; private set; }

    /// <summary>Takes a frame. Finished cycles wait for <see cref="TryTake"/>.</summary>
    public void Push(in SignalFrame frame)
    {
        var verdict = _order.Admit(frame, out var axis);
        TookLast = verdict != FrameOrder.Verdict.Drop;
        switch (verdict)
        {
            case FrameOrder.Verdict.Take:
                Process(frame, axis);
                break;
            case FrameOrder.Verdict.Stepped:
                foreach (ref readonly var released in _order.Released)
                    Process(released, released.Time.UtcTicks - _order.ClockOffset);
                _clockStepped |= _open;
                break;
            default:
                break;
        }
    }

    /// <summary>Takes the next finished cycle, oldest first.</summary>
    public bool TryTake([NotNullWhen(true)] out Cut? cut) => _ready.TryDequeue(out cut);

    /// <summary>Says that no frame will follow: whatever is open is finished with what was seen.</summary>
    public void Complete()
    {
        Settle(force: true);
        if (_open)
            Close(_trace.Count - 1, _lastTicks, Closing.InputEnded);
        Settle(force: true);
    }

    /// <summary>What must survive a restart, besides the frames since the open cycle began.</summary>
    public DetectorMemory Save()
    {
        var (value, rose, still) = _counter.Save();
        return new DetectorMemory
        {
            IdleLoadKw = Known(_idleKw),
            BottomMm = Known(_bottomMm),
            BottomDoubtMm = Known(_bottomDoubtMm),
            UsualJob = _usualJob,
            UsualCutSeconds = Known(_usualCutSeconds),
            UsualTailSeconds = Known(_usualTailSeconds),
            CycleBitSpansCuts = _spans,
            CuttingAboveKw = Known(_runThresholdKw),
            PartCount = value,
            PartCountRose = rose,
            CutsWithoutRise = still,
            UsualIntervalSeconds = (double)_usualTicks / TimeSpan.TicksPerSecond,
            LookedAt = _lookedAt,
            Unseen = _unseen,
            Ledger = _ledger.Save(),
            Mode = _mode,
            Job = _job,
            BarId = _barId,
            BladeId = _bladeId,
            LastCutBarId = _lastCutBarId,
        };
    }

    /// <summary>Continues from what <see cref="Save"/> gave; before the first frame.</summary>
    public void Restore(DetectorMemory memory)
    {
        _idleKw = memory.IdleLoadKw ?? double.NaN;
        _bottomMm = memory.BottomMm ?? double.NaN;
        _bottomDoubtMm = memory.BottomDoubtMm ?? double.NaN;
        _spans = memory.CycleBitSpansCuts;
        _runThresholdKw = memory.CuttingAboveKw ?? double.NaN;
        _usualJob = memory.UsualJob;
        _usualCutSeconds = memory.UsualCutSeconds ?? double.NaN;
        _usualTailSeconds = memory.UsualTailSeconds ?? double.NaN;
        _counter.Restore(memory.PartCount, memory.PartCountRose, memory.CutsWithoutRise);
        _usualTicks = memory.UsualIntervalSeconds > 0 ? (long)(memory.UsualIntervalSeconds.Value * TimeSpan.TicksPerSecond) : _usualTicks;
        _lookedAt = memory.LookedAt;
        _counterKnownUntil = memory.LookedAt?.UtcTicks ?? long.MinValue;
        _unseen = memory.Unseen;
        _ledger.Restore(memory.Ledger);
        _mode = memory.Mode;
        _job = memory.Job;
        _barId = memory.BarId;
        _bladeId = memory.BladeId;
        _lastCutBarId = memory.LastCutBarId;
    }

    private static double? Known(double value) => double.IsNaN(value) ? null : value;

    private DateTimeOffset ToTime(long ticks) => new(ticks + _offset, TimeSpan.Zero);

    private void Process(in SignalFrame frame, long ticks)
    {
        // A source that says that it sees nothing: what comes after it follows a gap, however often that was said.
        if (!frame.HasAny)
            return;
        if (!_open)
            GoByClockOfFrames(ticks);
        var sample = ToSample(frame, ticks);
        var gap = _lastTicks != long.MinValue && FollowsGap(ticks - _lastTicks);

        var before = _counter.RiseSinceMark;
        var rise = ReadCounter(frame);

        // Counted in a pause of the frames, with nothing cut in this cycle before it: what was counted was not seen, and another cycle may run by now.
        gap |= _open && _settling is null && before == 0 && _counter.RiseSinceMark > 0 && ticks - _lastTicks > Math.Max(UnseenTicks, 3 * _usualTicks) && !Analyse(_trace.Count).HasCut;
        _now = ticks;
        KeepAccount(frame, rise, before, gap || _resumed);
        _resumed = false;
        Settle(force: gap, ticks);
        if (gap)
            CrossGap(sample);
        SettleAccountBetweenCycles();
        ReadTexts(frame);
        if (_open)
            Follow(sample);
        else
            Watch(sample);
        _lastTicks = ticks;
        _lookedAt = frame.Time;
    }

    // Between cycles alone: times of a cycle follow the clock with which it began.
    private void GoByClockOfFrames(long ticks)
    {
        if (_offset != _order.ClockOffset)
            _offsetSince = ticks;
        _offset = _order.ClockOffset;
    }

    // Frames that come seldom but evenly are no gaps: after a few of them their distance is the usual one.
    private bool FollowsGap(long distance)
    {
        var usual = Math.Abs(distance - _lastDistance) <= distance / 4;
        _evenFrames = usual ? _evenFrames + 1 : 0;
        _lastDistance = distance;
        if (_evenFrames >= 3 && distance > _usualTicks)
            _usualTicks = distance;
        if (distance > CutAnalysis.GapLimit(_usualTicks))
            return true;
        _usualTicks += (distance - _usualTicks) / 16;
        return false;
    }

    private Sample ToSample(in SignalFrame frame, long ticks)
    {
        var flags = SampleFlags.None;
        flags |= _cycleBit.Read(frame.Flag(Signal.CycleActive), ticks) switch { true => SampleFlags.CycleKnown | SampleFlags.Cycle, false => SampleFlags.CycleKnown, null => SampleFlags.None };
        flags |= _cuttingBit.Read(frame.Flag(Signal.Cutting), ticks) switch { true => SampleFlags.CuttingKnown | SampleFlags.Cutting, false => SampleFlags.CuttingKnown, null => SampleFlags.None };
        flags |= _bladeBit.Read(frame.Flag(Signal.BladeRunning), ticks) switch { true => SampleFlags.BladeKnown, false => SampleFlags.BladeKnown | SampleFlags.BladeStopped, null => SampleFlags.None };
        if (frame.Has(Signal.FaultCode))
            _fault = (long)frame.Number(Signal.FaultCode);

        // A code that stood before the cycle began is a standing message, not what ended the cut.
        if (_open && _fault != 0 && _fault != _faultAtOpen)
        {
            flags |= SampleFlags.Fault;
            _faultInCycle = _fault;
        }

        return new Sample
        {
            Ticks = ticks,
            Head = (float)frame.Number(Signal.HeadPosition),
            Load = (float)frame.Number(Signal.MotorLoad),
            Speed = (float)frame.Number(Signal.BladeSpeed),
            Flags = flags,
        };
    }

    private void ReadTexts(in SignalFrame frame)
    {
        _mode = frame.Text(Signal.Mode) ?? _mode;
        _job = frame.Text(Signal.Job) ?? _job;
        _barId = frame.Text(Signal.BarId) ?? _barId;
        _bladeId = frame.Text(Signal.BladeId) ?? _bladeId;
    }

    /// <summary>A bit that is not read in every frame holds for a while.</summary>
    private sealed class HeldFlag
    {
        private bool? _value;
        private long _readAt;

        public bool? Read(bool? value, long ticks)
        {
            if (value is not null)
            {
                _value = value;
                _readAt = ticks;
            }
            else if (ticks - _readAt > BitHoldTicks)
            {
                _value = null;
            }

            return _value;
        }
    }
}
