namespace SawEdge.Core.Cycles;

/// <summary>
/// Where the head and the job's section say that the blade is in air and where in stock. Above the stock's top the blade
/// runs in air, whatever was learned of the idle load before; from there on down to the table it is in the stock, if the
/// load is above that of the air by more than chance and does not say clearly that it met the stock elsewhere.
/// </summary>
internal ref struct StockByHead
{
    /// <summary>A head this far above the stock's top is above it, mm; common practice, no source.</summary>
    private const double ClearMm = 1;

    /// <summary>How long a load may lag behind what the blade does, s.</summary>
    private const double LagSeconds = 1.2;

    /// <summary>Longest inrush of a motor, s, and stretch before the descent that still counts as this cycle's air, s.</summary>
    private const double InrushSeconds = 3;

    /// <summary>Stretch whose mean load is taken for one value of the air's load, s.</summary>
    private const double WindowSeconds = 0.8;

    /// <summary>Faster than this no head goes down through stock, mm/s; common practice, no source.</summary>
    private const double RapidMmS = 1000.0 / 60;

    /// <summary>A load nearer to the air's than this share of it is the air's.</summary>
    private const double LeastRise = 0.01;

    /// <summary>So many standard errors are no chance, and so many are clear where the section itself speaks against chance.</summary>
    private const double Certain = 4;
    private const double Clear = 3;

    /// <summary>A motor runs up in this time, s: until then its load may lie below the air's; common practice, no source.</summary>
    private const double RunUpSeconds = 2;

    /// <summary>Fewer samples of air do not tell its noise; the cut's own is greater.</summary>
    private const int LeastAirSamples = 8;

    private readonly ReadOnlySpan<Sample> _samples;
    private readonly Span<float> _scratch;
    private readonly StockShape _stock;
    private readonly int _from;
    private readonly int _to;
    private readonly long _interval;
    private double _noise;
    private bool _airIsMeasured;

    private StockByHead(ReadOnlySpan<Sample> samples, int from, int to, long interval, StockShape stock, Span<float> scratch)
    {
        _samples = samples;
        _scratch = scratch;
        _stock = stock;
        _from = from;
        _to = to;
        _interval = interval;
        AirKw = double.NaN;
        Top = Table = -1;
    }

    /// <summary>Load with the blade in air above the stock of this very cycle, kW; NaN where it was not seen.</summary>
    public double AirKw { get; private set; }

    /// <summary>First sample below the stock's top, and when the head passed it; -1 where that was not seen.</summary>
    public int Top { get; private set; }

    /// <summary>When the head passed the stock's top, ticks.</summary>
    public long TopTicks { get; private set; }

    /// <summary>First sample at the table or below; -1 where it was not reached.</summary>
    public int Table { get; private set; }

    /// <summary>When the head reached the table, ticks.</summary>
    public long TableTicks { get; private set; }

    /// <summary>Nothing known.</summary>
    public static StockByHead None => new([], 0, 0, 1, StockShape.Unknown, []);

    /// <summary>Whether the head went all the way to the table in air: the load is that of the air throughout, as far as its noise can tell.</summary>
    public readonly bool IsStrokeInAir()
    {
        const int Parts = 8;
        if (double.IsNaN(AirKw) || !_airIsMeasured || Table - Top < Parts)
            return false;
        if (Mean(Top, Table, out var error) - AirKw > Math.Max(Certain * error, LeastRise * Math.Abs(AirKw)))
            return false;
        for (var k = 0; k < Parts; k++)
        {
            var (from, to) = (Top + (k * (Table - Top) / Parts), Top + ((k + 1) * (Table - Top) / Parts));
            if (Math.Abs(Mean(from, to, out _) - AirKw) > Math.Max(Certain * _noise / Math.Sqrt(to - from), 2 * LeastRise * Math.Abs(AirKw)))
                return false;
        }

        return true;
    }

    // End of the stretch in which the blade can have cut.
    private readonly int End => Table < 0 ? _to + 1 : Table;

    private readonly double ToleranceMm => Math.Max(3, 0.05 * _stock.HeightMm);

    /// <summary>Looks where the head passed the stock, and at the load above it.</summary>
    /// <param name="samples">The trace.</param>
    /// <param name="from">Start of the descent.</param>
    /// <param name="to">Last sample at the bottom.</param>
    /// <param name="interval">Usual time between samples, ticks.</param>
    /// <param name="hints">What is known beforehand.</param>
    /// <param name="scratch">Room for some hundred values.</param>
    public static StockByHead Find(ReadOnlySpan<Sample> samples, int from, int to, long interval, in CutHints hints, Span<float> scratch)
    {
        var found = new StockByHead(samples, from, to, interval, hints.Stock, scratch);
        if (hints.StartSeen && hints.Stock.HeightMm > 0 && found.FindHeights())
            found.FindAir();
        return found;
    }

    /// <summary>Whether the blade met the stock at its top: it was in air above, and the load does not say that it met it elsewhere.</summary>
    /// <param name="edges">What the load says alone.</param>
    public readonly bool ContactIsAtTop(in LoadEdges edges)
    {
        if (double.IsNaN(AirKw) || !IsLoaded(edges) || WentOnRapidly())
            return false;
        if (edges.First < 0 || !edges.RiseSeen || edges.ContactTicks <= TopTicks + LagTicks)
            return true;
        var start = Top;
        while (start < edges.First && (_samples[start].Ticks < TopTicks + LagTicks || CutAnalysis.SteadyHead(_samples, start) > _stock.HeightMm - _stock.TopSlackMm))
            start++;
        return CutAnalysis.SteadyHead(_samples, edges.First) >= _stock.HeightMm - _stock.TopSlackMm - ToleranceMm
            || !IsAir(start, edges.First);
    }

    /// <summary>Whether the blade left the stock at the table, as far as the load does not say that it left it elsewhere.</summary>
    /// <param name="edges">What the load says alone.</param>
    public readonly bool LeaveIsAtTable(in LoadEdges edges)
    {
        if (double.IsNaN(AirKw) || Table < 0)
            return false;
        var below = Table;
        while (below <= _to && _samples[below].Ticks < TableTicks + LagTicks)
            below++;
        var stop = below;
        while (stop <= _to && !_samples[stop].Is(SampleFlags.BladeStopped))
            stop++;
        if (stop - below >= 3 && Mean(below, stop, out var error) - AirKw - (Certain * error) > 0.5 * NetAboveTable())
            return false;
        if (edges.First < 0 || edges.LeaveTicks >= TableTicks - LagTicks)
            return true;
        var start = edges.Last + 1;
        while (start < Table && _samples[start].Ticks < edges.LeaveTicks + LagTicks)
            start++;
        var end = start;
        while (end < Table && CutAnalysis.SteadyHead(_samples, end) > _stock.BottomSlackMm)
            end++;
        return CutAnalysis.SteadyHead(_samples, edges.Last) <= _stock.BottomSlackMm + ToleranceMm || !IsAir(start, end);
    }

    private static long LagTicks => (long)(LagSeconds * TimeSpan.TicksPerSecond);

    private readonly int Count(double seconds, int atLeast) => Math.Max(atLeast, (int)Math.Round(seconds * TimeSpan.TicksPerSecond / _interval));

    private bool FindHeights()
    {
        var height = (float)_stock.HeightMm;
        var above = -1;
        for (var i = _to; i >= _from && above < 0; i--)
        {
            if (CutAnalysis.SteadyHead(_samples, i) >= height)
                above = i;
        }

        var gap = CutAnalysis.GapLimit(_interval);
        if (above < 0 || above >= _to || _samples[above + 1].Ticks - _samples[above].Ticks > gap)
            return false;
        if (float.IsNaN(CutAnalysis.SteadyHead(_samples, above + 1)))
            return false;
        Top = above + 1;
        TopTicks = Crossing(Top, height);
        for (var i = Top; i <= _to && Table < 0; i++)
        {
            if (!(CutAnalysis.SteadyHead(_samples, i) <= 0))
                continue;
            if (_samples[i].Ticks - _samples[i - 1].Ticks > gap || float.IsNaN(CutAnalysis.SteadyHead(_samples, i - 1)))
                return true;
            Table = i;
            TableTicks = Crossing(i, 0);
        }

        return true;
    }

    private readonly long Crossing(int below, float height)
    {
        var (from, to) = (CutAnalysis.SteadyHead(_samples, below - 1), CutAnalysis.SteadyHead(_samples, below));
        return TraceMath.Crossing(_samples[below - 1].Ticks, from, _samples[below].Ticks, to, height);
    }

    // The load just above the stock, as far back as it is the same; a motor's inrush may lie before it.
    private void FindAir()
    {
        var end = Top;
        while (end > _from && !(CutAnalysis.SteadyHead(_samples, end - 1) >= _stock.HeightMm + ClearMm))
            end--;
        var start = StartOfAir(end, out var settled);
        var window = Math.Min(Count(WindowSeconds, 2), (end - start) / 2);
        if (end - start < 3 || window < 1)
            return;
        _airIsMeasured = end - start >= LeastAirSamples;
        _noise = _airIsMeasured ? Noise(start, end) : Noise(Top, _to + 1);
        var same = end - window;
        var level = Mean(same, end, out _);
        var least = level;
        var broken = false;
        for (var i = same - window; i >= start; i -= window)
        {
            var mean = Mean(i, i + window, out _);
            if (i >= settled)
                least = Math.Min(least, mean);
            broken |= !(Math.Abs(mean - level) <= Slack(window, level));
            if (broken)
                continue;
            same = i;
            level = Mean(same, end, out _);
        }

        // A level that is lower further up is the air's: the blade met something above the stock's top, and only the load tells where.
        if (least >= level - Slack(window, level) && end - same >= 2 * window)
            AirKw = level;
    }

    // Values in coarse steps seem to have no noise, and then jump by a whole step; a great jump is no step but an inrush.
    private readonly double Noise(int from, int to)
    {
        const double GreatestStep = 0.1;
        var step = double.PositiveInfinity;
        for (var i = from + 1; i < to; i++)
        {
            double here = _samples[i].Load;
            var difference = Math.Abs(here - _samples[i - 1].Load);
            if (difference > 1e-6 * Math.Abs(here) && difference < GreatestStep * Math.Abs(here))
                step = Math.Min(step, difference);
        }

        return Math.Max(TraceMath.LoadNoise(_samples, from, to, _scratch), double.IsFinite(step) ? step / 2 : 0);
    }

    private readonly double Slack(int window, double level) => Math.Max(Certain * _noise * Math.Sqrt(2.0 / window), LeastRise * Math.Abs(level));

    // After the last stop of the blade and the peak of its inrush; not longer before the descent than an inrush.
    private readonly int StartOfAir(int end, out int settled)
    {
        var level = TraceMath.MedianLoad(_samples, end - Count(WindowSeconds, 2), end, _scratch);
        var start = end;
        var limit = Math.Max(0, _from - Count(InrushSeconds, 2));
        while (start > limit && !IsOff(start - 1, level) && CutAnalysis.SteadyHead(_samples, start - 1) >= _stock.HeightMm + ClearMm)
            start--;
        settled = start;
        if (start == limit || !IsOff(start - 1, level))
            return start;
        while (settled < end && _samples[settled].Ticks - _samples[start].Ticks < RunUpSeconds * TimeSpan.TicksPerSecond)
            settled++;
        var peak = start;
        for (var i = start; i < end && _samples[i].Ticks - _samples[start].Ticks <= InrushSeconds * TimeSpan.TicksPerSecond; i++)
        {
            if (_samples[i].Load > _samples[peak].Load)
                peak = i;
        }

        return peak + 1;
    }

    private readonly bool IsOff(int i, double level) => _samples[i].Is(SampleFlags.BladeStopped) || !(_samples[i].Load >= 0.3 * level);

    private readonly bool IsLoaded(in LoadEdges edges)
    {
        if (edges.First >= 0)
            return true;
        var net = Mean(Top, End, out var error) - AirKw;
        return net > Math.Max(Certain * error, LeastRise * Math.Abs(AirKw));
    }

    // A head that still came down rapidly below the stock's top was not in it.
    private readonly bool WentOnRapidly()
    {
        var height = _stock.HeightMm - ToleranceMm;
        for (var i = Top; i <= _to; i++)
        {
            var (before, here) = (CutAnalysis.SteadyHead(_samples, i - 1), CutAnalysis.SteadyHead(_samples, i));
            if ((before - here) / ((double)(_samples[i].Ticks - _samples[i - 1].Ticks) / TimeSpan.TicksPerSecond) < RapidMmS)
                return false;
            if (here < height)
                return true;
        }

        return false;
    }

    // Where the section would load the blade by a share of the usual at least, the load clearly shows less than half of that.
    private readonly bool IsAir(int from, int to) =>
        to > from && Mean(from, to, out var error) - AirKw + (Clear * error) < 0.5 * _stock.LeastShare * (Mean(Top, End, out _) - AirKw);

    // The greater of the whole cut's and of what the blade had last: a tube's wall is more than its sides.
    private readonly double NetAboveTable() =>
        Math.Max(Mean(Top, Table, out _), Mean(Math.Max(Top, Table - Count(LagSeconds, 2)), Table, out _)) - AirKw;

    // Mean load of samples from..to (exclusive) and its standard error from the means of up to 16 stretches, whose
    // neighbours differ by what noise of any length leaves in them; a few samples have the noise of the air.
    private readonly double Mean(int from, int to, out double error)
    {
        const int Most = 16;
        Span<float> differences = stackalloc float[Most];
        var count = to - from;
        var stretches = Math.Clamp(count / 4, 1, Most);
        double sum = 0, before = double.NaN;
        var (seen, known) = (0, 0);
        for (var k = 0; k < stretches; k++)
        {
            double part = 0;
            var parts = 0;
            for (var i = from + (int)((long)k * count / stretches); i < from + (int)((long)(k + 1) * count / stretches); i++)
            {
                if (float.IsNaN(_samples[i].Load))
                    continue;
                part += _samples[i].Load;
                parts++;
            }

            if (parts == 0)
                continue;
            sum += part;
            seen += parts;
            if (!double.IsNaN(before))
                differences[known++] = (float)Math.Abs((part / parts) - before);
            before = part / parts;
        }

        error = _noise / Math.Sqrt(Math.Max(1, seen));
        if (known >= 4)
            error = Math.Max(error, TraceMath.Median(differences[..known]) * TraceMath.MadToSigma / Math.Sqrt(2 * (known + 1)));
        return seen == 0 ? double.NaN : sum / seen;
    }
}
