namespace SawEdge.Core.Cycles;

/// <summary>
/// Finds in the motor load where the blade met the stock and where it left it. The idle level is taken from just
/// before the first lasting rise of a running blade (a motor's start and its inrush are no contact); what lies above
/// it by more than its noise is cutting; the moments are interpolated between samples.
/// </summary>
internal ref struct LoadEdges
{
    private const double LongestInrushSeconds = 3;

    /// <summary>Below this share of the high loads a motor is switched off, not idling.</summary>
    private const double OffShare = 0.02;

    /// <summary>Idle load at the fastest blade speed over that at the slowest: speeds of 20 to 130 m/min, common practice, no source.</summary>
    private const double GreatestIdleFactor = 3;

    private readonly ReadOnlySpan<Sample> _samples;
    private readonly Span<float> _scratch;
    private readonly int _from;
    private readonly int _to;
    private readonly long _interval;
    private readonly bool _startSeen;
    private float _offBelow;

    private LoadEdges(ReadOnlySpan<Sample> samples, int from, int to, long interval, bool startSeen, Span<float> scratch)
    {
        _startSeen = startSeen;
        _samples = samples;
        _from = from;
        _to = to;
        _interval = interval;
        _scratch = scratch;
        _offBelow = float.NegativeInfinity;
        IdleKw = double.NaN;
        First = Last = -1;
    }

    /// <summary>Load with the blade in air, kW; NaN where none was seen.</summary>
    public double IdleKw { get; private set; }

    /// <summary>Load above which the blade is taken to cut, kW.</summary>
    public double ThresholdKw { get; private set; }

    /// <summary>First sample in the stock; -1 where the load shows no cut.</summary>
    public int First { get; private set; }

    /// <summary>Last sample in the stock.</summary>
    public int Last { get; private set; }

    /// <summary>Whether the rise at <see cref="First"/> itself was seen: air before it.</summary>
    public bool RiseSeen { get; private set; }

    /// <summary>Whether the fall after <see cref="Last"/> itself was seen: air after it.</summary>
    public bool FallSeen { get; private set; }

    /// <summary>Contact, ticks.</summary>
    public long ContactTicks { get; private set; }

    /// <summary>Breakthrough or leaving the stock, ticks.</summary>
    public long LeaveTicks { get; private set; }

    /// <summary>Looks for a cut in the samples from..to (inclusive).</summary>
    /// <param name="samples">The trace.</param>
    /// <param name="from">First sample that may lie in the cut.</param>
    /// <param name="to">Last sample that may lie in the cut.</param>
    /// <param name="interval">Usual time between samples, ticks.</param>
    /// <param name="hints">What is known beforehand.</param>
    /// <param name="airKw">Load that the blade is known to have in air in this very cycle, kW, or NaN.</param>
    /// <param name="scratch">Room for some hundred values.</param>
    public static LoadEdges Find(ReadOnlySpan<Sample> samples, int from, int to, long interval, in CutHints hints, double airKw, Span<float> scratch)
    {
        var edges = new LoadEdges(samples, from, to, interval, hints.StartSeen, scratch);
        edges.Locate(hints.IdleKw, airKw);
        return edges;
    }

    private readonly int Count(double seconds, int atLeast) => Math.Max(atLeast, (int)Math.Round(seconds * TimeSpan.TicksPerSecond / _interval));

    private void Locate(double learned, double air)
    {
        var noise = TraceMath.LoadNoise(_samples, _from, _to + 1, _scratch);
        var brief = Math.Min(Count(1, 2), 12);
        var rise = FindIdle(double.IsNaN(air) ? learned : air, brief, noise);
        if (!double.IsNaN(air))
            IdleKw = air;
        if (double.IsNaN(IdleKw))
            return;
        if (rise > _from + 6)
            noise = Math.Min(noise, TraceMath.LoadNoise(_samples, Math.Max(_from, rise - (5 * brief)), rise - 1, _scratch));

        // The level of cutting decides the threshold and the threshold what counts as cutting: twice is enough.
        ThresholdKw = IdleKw + Math.Max(5 * noise, 0.04 * Math.Abs(IdleKw));
        for (var round = 0; round < 2; round++)
        {
            var level = MedianAbove(ThresholdKw);
            if (double.IsNaN(level))
                return;
            ThresholdKw = IdleKw + Math.Max(Math.Min(4 * noise, 0.5 * (level - IdleKw)), 0.06 * (level - IdleKw));
        }

        FindRuns();
        if (First < 0)
            return;
        if (rise < 0 && First > _from + brief)
        {
            // Air before it, and yet no rise that lasts: a drift, not a cut.
            First = Last = -1;
            return;
        }

        RiseSeen = First > _from || (First > 0 && TraceMath.SmoothLoad(_samples, First - 1) <= ThresholdKw);
        ContactTicks = RiseSeen ? Rise() : _samples[First].Ticks;
        Fall();
    }

    // Sets the idle level; returns the sample at which the load rises from it for good, or -1.
    private int FindIdle(double learned, int brief, double noise)
    {
        MarkOff();
        var rise = LastingStep(brief, noise, out var before);
        if (rise < 0 && _offBelow > 0 && !(learned > 0))
        {
            // Only a rise from nothing: the start of a motor, or the first cut of a saw whose idle load reads as nothing.
            // A load that is still there when the cycle ends was a motor running idle.
            _offBelow = float.NegativeInfinity;
            rise = LastingStep(brief, noise, out before);
            var tail = TraceMath.MedianLoad(_samples, _samples.Length - Count(1, 2), _samples.Length, _scratch);
            var level = rise < 0 ? double.NaN : TraceMath.MedianLoad(_samples, rise, _to + 1, _scratch);
            if (tail > before + (0.5 * (level - before)))
                return -1;
        }

        // A level far above the learned one is a trace that began in the stock; one far below it is no blade in air. Where the
        // cycle was seen from its start it did not begin in the stock, and another job's blade speed may halve or double the idle load.
        var fits = rise >= 0 && (!(learned > 0 && Math.Abs(before - learned) > Math.Max(6 * noise, 0.35 * learned))
            || (_startSeen && before > learned / GreatestIdleFactor && before < learned * GreatestIdleFactor && RanLikeThis(rise, brief, before, Math.Max(6 * noise, 0.2 * before))));
        var after = fits && _startSeen ? double.NaN : LevelAfterLastFall(brief, noise);
        if (fits && !double.IsNaN(after))
        {
            // Nobody saw the cycle begin: it may have begun in the stock, and the level after the cut tells.
            fits = before - after <= Math.Max(4 * noise, 0.12 * (TraceMath.MedianLoad(_samples, rise, _to + 1, _scratch) - after));
        }

        IdleKw = fits ? before : learned > 0 ? learned : after;
        return rise;
    }

    // Whether the blade ran at a level for a while before the load rose, and never below it in this descent: less load earlier was
    // the air, and what rises later rises in the stock (a stall, a hard spot); a motor that still runs up is no level.
    private readonly bool RanLikeThis(int rise, int brief, double level, double tolerance)
    {
        for (var i = _from; i + brief < rise; i += brief)
        {
            if (MedianRunning(i, i + brief) < level - tolerance)
                return false;
        }

        return Math.Abs(MedianRunning(rise - (2 * brief), rise - brief) - level) <= tolerance;
    }

    private void MarkOff()
    {
        var known = false;
        for (var i = 0; i < _samples.Length && !known; i++)
            known = _samples[i].Is(SampleFlags.BladeKnown);
        var step = Math.Max(1, _samples.Length / _scratch.Length);
        var count = 0;
        for (var i = 0; i < _samples.Length && count < _scratch.Length; i += step)
        {
            if (!float.IsNaN(_samples[i].Load))
                _scratch[count++] = _samples[i].Load;
        }

        if (count == 0)
            return;
        _scratch[..count].Sort();
        _offBelow = (float)(OffShare * _scratch[(int)(0.9 * (count - 1))]);
        var lowest = _scratch[0];
        if (lowest >= _offBelow && !known)
            _offBelow = float.NegativeInfinity;
    }

    private readonly bool IsOff(int i) => _samples[i].Is(SampleFlags.BladeStopped) || _samples[i].Load < _offBelow;

    private readonly int LastingStep(int brief, double noise, out double levelBefore)
    {
        levelBefore = double.NaN;
        var lasting = Count(LongestInrushSeconds, brief + 2);

        // A step is seen as well a third of its width aside, and a long cut need not be looked at sample by sample.
        var stride = Math.Max(Math.Max(1, brief / 3), (_to - _from) / 4096);
        var greatest = 0.0;
        for (var i = _from + 1; i <= _to; i += stride)
            greatest = Math.Max(greatest, Step(i, brief, lasting, out _));
        if (greatest <= Math.Max(5 * noise / Math.Sqrt(brief), 1e-6))
            return -1;
        for (var i = _from + 1; i <= _to; i += stride)
        {
            if (Step(i, brief, lasting, out levelBefore) >= 0.5 * greatest)
                return i;
        }

        return -1;
    }

    private readonly double Step(int index, int brief, int lasting, out double before)
    {
        before = MedianRunning(Math.Max(index - brief, Math.Min(_from, index - 2)), index);
        if (double.IsNaN(before))
            return 0;
        var after = MedianRunning(index, Math.Min(index + brief, _to + 1));
        if (!(after > before))
            return 0;
        var later = MedianRunning(index, Math.Min(index + lasting, _to + 1));
        return Math.Min(after, later) - before;
    }

    private readonly double MedianRunning(int from, int to)
    {
        from = Math.Max(0, from);
        var count = 0;
        for (var i = from; i < to && count < _scratch.Length; i++)
        {
            if (!IsOff(i))
                _scratch[count++] = _samples[i].Load;
        }

        return count == 0 ? double.NaN : TraceMath.Median(_scratch[..count]);
    }

    private readonly double LevelAfterLastFall(int brief, double noise)
    {
        var stop = Math.Min(_samples.Length, _to + 1 + Count(3, 3));
        var level = double.NaN;
        var greatest = Math.Max(5 * noise / Math.Sqrt(brief), 1e-6);
        for (var i = _from + 1; i < stop; i++)
        {
            var before = MedianRunning(Math.Max(i - brief, _from), i);
            var after = MedianRunning(i, Math.Min(i + brief, stop));
            if (before - after >= greatest)
            {
                greatest = before - after;
                level = after;
            }
        }

        return level;
    }

    private readonly double MedianAbove(double threshold)
    {
        var step = Math.Max(1, (_to - _from + 1) / _scratch.Length);
        var count = 0;
        for (var i = _from; i <= _to && count < _scratch.Length; i += step)
        {
            if (_samples[i].Load > threshold)
                _scratch[count++] = _samples[i].Load;
        }

        return count == 0 ? double.NaN : TraceMath.Median(_scratch[..count]);
    }

    private void FindRuns()
    {
        var first = -1;
        var last = -1;
        var runStart = -1;
        var above = 0;
        for (var i = _from; i <= _to; i++)
        {
            var isAbove = TraceMath.SmoothLoad(_samples, i) > ThresholdKw;
            if (isAbove && runStart < 0)
                runStart = i;
            if (isAbove)
            {
                above++;
                last = i;
            }

            if (runStart < 0 || (isAbove && i < _to))
                continue;

            // The run ended. A single sample is noise; a short run far smaller than what follows is an inrush.
            var runEnd = isAbove ? i : i - 1;
            if (first < 0 && (runEnd > runStart || _interval > TimeSpan.TicksPerSecond / 2) && !IsInrush(runStart, runEnd))
                first = runStart;
            runStart = -1;
        }

        // Noise that crosses the threshold now and then is no cut.
        if (first < 0 || above < 2 || above * 10 < last - first)
            return;
        First = first;
        Last = Math.Max(first, last);
    }

    private readonly bool IsInrush(int start, int end)
    {
        if (_samples[end].Ticks - _samples[start].Ticks > LongestInrushSeconds * TimeSpan.TicksPerSecond)
            return false;
        var (run, later) = (0L, 0L);
        for (var i = start; i <= end; i++)
            run += Share(i);
        for (var i = end + 1; i <= _to; i++)
        {
            if (_samples[i].Load > ThresholdKw)
                later += Share(i);
        }

        return later >= 3 * run;
    }

    // The time that a sample stands for, ticks: where polls are held up, frames come in bursts, and their number says nothing. Nobody saw what was in a gap.
    private readonly long Share(int i) => i > 0 ? Math.Min(_samples[i].Ticks - _samples[i - 1].Ticks, Math.Max(TimeSpan.TicksPerSecond, 3 * _interval)) : _interval;

    // The load that is reached shortly inside an edge.
    private readonly double Plateau(int edge, int direction)
    {
        var near = edge + (direction * Count(0.5, 1));
        var far = edge + (direction * Count(2.5, 3));
        var plateau = TraceMath.MedianLoad(_samples, Math.Max(Math.Min(near, far), First), Math.Min(Math.Max(near, far), Last) + 1, _scratch);
        return double.IsNaN(plateau) ? _samples[edge].Load : plateau;
    }

    // A rise within one interval happened halfway, as far as anyone can tell; a slow one (a round bar's first
    // millimetres) began where the load left the idle level.
    private readonly long Rise()
    {
        var outside = First - 1;
        while (outside >= 0 && float.IsNaN(_samples[outside].Load))
            outside--;
        if (outside < 0)
            return _samples[First].Ticks;
        var half = IdleKw + (0.5 * (Plateau(First, 1) - IdleKw));
        var level = _samples[First].Load >= half ? Math.Max(half, ThresholdKw) : ThresholdKw;
        return TraceMath.Crossing(_samples[outside].Ticks, _samples[outside].Load, _samples[First].Ticks, _samples[First].Load, level);
    }

    // A transducer's lag draws the fall out beyond the end of the cut, a round bar's last millimetres draw it out
    // before it: a level in between serves both best where only the load is there to tell.
    private void Fall()
    {
        const double FallLevel = 0.35;
        LeaveTicks = _samples[Last].Ticks;
        var level = Math.Max(ThresholdKw, IdleKw + (FallLevel * (Plateau(Last, -1) - IdleKw)));
        var limit = Math.Min(_samples.Length - 1, Last + Count(LongestInrushSeconds, 3));
        for (var i = Last + 1; i <= limit && !FallSeen; i++)
            FallSeen = _samples[i].Load <= level;
        if (!FallSeen)
            return;
        var inside = Last;
        while (inside < limit && !(_samples[inside + 1].Load <= level))
            inside++;
        while (inside > First && !(_samples[inside].Load > level))
            inside--;
        var outside = inside + 1;
        while (outside < limit && float.IsNaN(_samples[outside].Load))
            outside++;
        LeaveTicks = TraceMath.Crossing(_samples[inside].Ticks, _samples[inside].Load, _samples[outside].Ticks, _samples[outside].Load, level);
    }
}
