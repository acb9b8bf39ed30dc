namespace SawEdge.Core.Cycles;

/// <summary>Means, energy and coverage of a cut by the trapezoid rule over its samples, its interpolated ends included.</summary>
internal readonly struct CutFigures
{
    /// <summary>Below this share of frames seen, an integral over the cut would be mostly invention.</summary>
    public const double LeastCoverage = 0.8;

    private CutFigures(double mean, double peak, double energy, double speed, int frames, double coverage)
    {
        MeanLoadKw = mean;
        PeakLoadKw = peak;
        EnergyKj = energy;
        MeanSpeed = speed;
        Frames = frames;
        Coverage = coverage;
    }

    public double MeanLoadKw { get; }

    public double PeakLoadKw { get; }

    public double EnergyKj { get; }

    public double MeanSpeed { get; }

    public int Frames { get; }

    public double Coverage { get; }

    /// <summary>Measures the samples first..last of a trace.</summary>
    public static CutFigures Of(ReadOnlySpan<Sample> samples, int stride, in CutFacts facts)
    {
        var gap = CutAnalysis.GapLimit(facts.Interval);
        var loadTime = 0.0;
        var loadSum = 0.0;
        var speedTime = 0.0;
        var speedSum = 0.0;
        var peak = double.NaN;
        for (var i = facts.First; i <= facts.Last; i++)
        {
            ref readonly var here = ref samples[i];
            if (!(here.Load <= peak))
                peak = float.IsNaN(here.Load) ? peak : here.Load;
            if (i == facts.First)
                continue;
            ref readonly var before = ref samples[i - 1];
            var ticks = here.Ticks - before.Ticks;
            if (ticks > gap)
                continue;
            var seconds = (double)ticks / TimeSpan.TicksPerSecond;
            Add(before.Load, here.Load, seconds, ref loadTime, ref loadSum);
            Add(before.Speed, here.Speed, seconds, ref speedTime, ref speedSum);
        }

        AddEnds(samples, facts, ref loadTime, ref loadSum);
        var mean = loadTime > 0 ? loadSum / loadTime : SingleLoad(samples, facts);
        var frames = (facts.Last - facts.First + 1) * stride;
        var bothSeen = facts.ContactSeen && facts.LeaveSeen;
        var span = facts.LeaveTicks - facts.ContactTicks;
        var coverage = double.NaN;
        if (bothSeen && span > 0)
            coverage = Math.Min(1, (facts.Last - facts.First + 1) / Math.Max(1.0, Math.Floor((double)span / facts.Interval)));
        var energy = coverage >= LeastCoverage && !double.IsNaN(facts.IdleKw)
            ? (mean - facts.IdleKw) * span / TimeSpan.TicksPerSecond
            : double.NaN;
        return new CutFigures(mean, peak, energy, speedTime > 0 ? speedSum / speedTime : double.NaN, frames, coverage);
    }

    // The stretches between the interpolated ends and the first and last sample in the stock carry the load of those samples.
    private static void AddEnds(ReadOnlySpan<Sample> samples, in CutFacts facts, ref double time, ref double sum)
    {
        if (facts.ContactSeen)
            AddEnd(samples[facts.First].Load, samples[facts.First].Ticks - facts.ContactTicks, facts.Interval, ref time, ref sum);
        if (facts.LeaveSeen)
            AddEnd(samples[facts.Last].Load, facts.LeaveTicks - samples[facts.Last].Ticks, facts.Interval, ref time, ref sum);
    }

    private static void AddEnd(float load, long ticks, long interval, ref double time, ref double sum)
    {
        if (ticks <= 0 || ticks > 2 * interval || float.IsNaN(load))
            return;
        var seconds = (double)ticks / TimeSpan.TicksPerSecond;
        time += seconds;
        sum += load * seconds;
    }

    private static double SingleLoad(ReadOnlySpan<Sample> samples, in CutFacts facts) => samples[facts.First].Load;

    private static void Add(float before, float here, double seconds, ref double time, ref double sum)
    {
        var value = float.IsNaN(before) ? here : float.IsNaN(here) ? before : (before + (double)here) / 2;
        if (double.IsNaN(value))
            return;
        time += seconds;
        sum += value * seconds;
    }
}
