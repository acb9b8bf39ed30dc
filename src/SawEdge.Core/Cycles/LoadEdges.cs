namespace SawEdge.Core.Cycles;

/// <summary>
/// Finds in the motor load where the blade met the stock and where it left it. The idle level is taken from just
/// before the first lasting rise (so that a motor's inrush, which does not last, is passed over); what lies above it
/// by more than its noise is cutting; the moments are interpolated at half the height of the flank, which a first-order
/// lag of the transducer shifts alike at both ends.
/// </summary>
internal ref struct LoadEdges
{
    private const double LongestInrushSeconds = 3;

    private readonly ReadOnlySpan<Sample> _samples;
    private readonly Span<float> _scratch;
    private readonly int _from;
    private readonly int _to;
    private readonly long _interval;

    private LoadEdges(ReadOnlySpan<Sample> samples, int from, int to, long interval, Span<float> scratch)
    {
        _samples = samples;
        _from = from;
        _to = to;
        _interval = interval;
        _scratch = scratch;
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
    /// <param name="learnedIdleKw">Idle load learned from earlier cycles, or NaN.</param>
    /// <param name="scratch">Room for some hundred values.</param>
    public static LoadEdges Find(ReadOnlySpan<Sample> samples, int from, int to, long interval, double learnedIdleKw, Span<float> scratch)
    {
        var edges = new LoadEdges(samples, from, to, interval, scratch);
        edges.Locate(learnedIdleKw);
        return edges;
    }

    private readonly int Ticks(double seconds, int atLeast) => Math.Max(atLeast, (int)Math.Round(seconds * TimeSpan.TicksPerSecond / _interval));

    private void Locate(double learnedIdleKw)
    {
        var noise = TraceMath.LoadNoise(_samples, _from, _to + 1, _scratch);
        var brief = Math.Min(Ticks(1, 2), 12);
        var rise = LastingStep(brief, noise, out var before);
        if (rise >= 0 && !(learnedIdleKw > 0 && before > learnedIdleKw + LevelMargin(before, learnedIdleKw, noise)))
            IdleKw = before;
        else if (learnedIdleKw > 0)
            IdleKw = learnedIdleKw;
        else
            IdleKw = rise >= 0 ? before : LevelAfterLastFall(brief, noise);
        if (double.IsNaN(IdleKw))
            return;

        // The level of cutting decides the threshold and the threshold what counts as cutting: twice is enough.
        ThresholdKw = IdleKw + Math.Max(4 * noise, 0.02 * Math.Abs(IdleKw));
        for (var round = 0; round < 2; round++)
        {
            var level = MedianAbove(ThresholdKw);
            if (double.IsNaN(level))
                return;
            ThresholdKw = IdleKw + Math.Max(Math.Min(4 * noise, 0.5 * (level - IdleKw)), 0.12 * (level - IdleKw));
        }

        FindRuns();
        if (First < 0)
            return;
        RiseSeen = First > _from || (First > 0 && TraceMath.SmoothLoad(_samples, First - 1) <= ThresholdKw);
        FallSeen = Last + 1 < _samples.Length && !(TraceMath.SmoothLoad(_samples, Last + 1) > ThresholdKw && _samples[Last + 1].Load > ThresholdKw);
        ContactTicks = RiseSeen ? Flank(First, 1) : _samples[First].Ticks;
        LeaveTicks = FallSeen ? Flank(Last, -1) : _samples[Last].Ticks;
    }

    // An idle level far above the learned one is a trace that began in the stock.
    private static double LevelMargin(double before, double learned, double noise) => Math.Max(6 * noise, 0.35 * Math.Min(before, learned));

    private readonly int LastingStep(int brief, double noise, out double levelBefore)
    {
        levelBefore = double.NaN;
        var lasting = Ticks(LongestInrushSeconds, brief + 2);
        // A step is seen as well a third of its width aside, and a long cut need not be looked at sample by sample.
        var stride = Math.Max(Math.Max(1, brief / 3), (_to - _from) / 4096);
        var greatest = 0.0;
        for (var i = _from + 1; i <= _to; i += stride)
            greatest = Math.Max(greatest, Step(i, brief, lasting, out _));
        var significant = Math.Max(5 * noise / Math.Sqrt(brief), 1e-6);
        if (greatest <= significant)
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
        // A blade that only started within the window leaves zeros behind: at least two samples of air are asked for.
        before = TraceMath.MedianLoad(_samples, Math.Max(index - brief, Math.Min(_from, index - 2)), index, _scratch);
        var after = TraceMath.MedianLoad(_samples, index, Math.Min(index + brief, _to + 1), _scratch);
        var later = TraceMath.MedianLoad(_samples, index, Math.Min(index + lasting, _to + 1), _scratch);
        var step = Math.Min(after, later) - before;
        return double.IsNaN(step) ? 0 : step;
    }

    private readonly double LevelAfterLastFall(int brief, double noise)
    {
        var stop = Math.Min(_samples.Length, _to + 1 + Ticks(3, 3));
        var level = double.NaN;
        var significant = Math.Max(5 * noise / Math.Sqrt(brief), 1e-6);
        var greatest = significant;
        for (var i = _from + 1; i < stop; i++)
        {
            var before = TraceMath.MedianLoad(_samples, Math.Max(i - brief, _from), i, _scratch);
            var after = TraceMath.MedianLoad(_samples, i, Math.Min(i + brief, stop), _scratch);
            if (before - after >= greatest && after > 0.02 * before)
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
        var aboveTotal = 0;
        for (var i = _from; i <= _to; i++)
        {
            var above = TraceMath.SmoothLoad(_samples, i) > ThresholdKw;
            if (above && runStart < 0)
                runStart = i;
            if (above)
            {
                aboveTotal++;
                last = i;
            }

            if (runStart < 0 || (above && i < _to))
                continue;

            // The run ended. A single sample is noise; a short run far smaller than what follows is an inrush.
            var runEnd = above ? i : i - 1;
            if (first < 0 && (runEnd > runStart || _interval > TimeSpan.TicksPerSecond / 2))
                first = IsInrush(runStart, runEnd) ? -1 : runStart;
            runStart = -1;
        }

        if (first < 0 || aboveTotal == 0)
            return;
        First = first;
        Last = Math.Max(first, last);
    }

    private readonly bool IsInrush(int start, int end)
    {
        if (_samples[end].Ticks - _samples[start].Ticks > LongestInrushSeconds * TimeSpan.TicksPerSecond)
            return false;
        var later = 0;
        for (var i = end + 1; i <= _to; i++)
        {
            if (_samples[i].Load > ThresholdKw)
                later++;
        }

        return later >= 3 * (end - start + 1);
    }

    // Walks from the first (direction 1) or last (-1) sample in the stock inward to half the height that the load
    // reaches shortly after, and interpolates.
    private readonly long Flank(int edge, int direction)
    {
        var near = Math.Max(1, Ticks(0.5, 1));
        var far = Math.Max(near + 2, Ticks(2.5, 3));
        var a = edge + (direction * near);
        var b = edge + (direction * far);
        var lower = Math.Max(Math.Min(a, b), First);
        var upper = Math.Min(Math.Max(a, b), Last);
        var plateau = TraceMath.MedianLoad(_samples, lower, upper + 1, _scratch);
        if (double.IsNaN(plateau))
            plateau = _samples[edge].Load;
        var level = Math.Max(ThresholdKw, IdleKw + (0.5 * (plateau - IdleKw)));
        var inside = edge;
        var limit = edge + (direction * Ticks(3, 3));
        while (inside != limit && inside > First - 1 && inside < Last + 1 && !(_samples[inside].Load >= level))
            inside += direction;
        if (inside < First || inside > Last)
            inside = edge;
        var outside = inside - direction;
        while (outside >= 0 && outside < _samples.Length && float.IsNaN(_samples[outside].Load))
            outside -= direction;
        if (outside < 0 || outside >= _samples.Length)
            return _samples[inside].Ticks;
        return TraceMath.Crossing(_samples[outside].Ticks, _samples[outside].Load, _samples[inside].Ticks, _samples[inside].Load, level);
    }
}
