namespace SawEdge.Core.Cycles;

/// <summary>Divides a cut into equal bins of depth, or of time where the head position is unknown.</summary>
internal static class DepthProfiler
{
    /// <summary>The profile of a cut whose both ends were seen; null for any other.</summary>
    /// <param name="samples">The trace.</param>
    /// <param name="facts">What it says about the cut.</param>
    /// <param name="depthKnown">Whether the head position can be believed; otherwise the bins are of time.</param>
    /// <param name="speedKnown">Whether the blade speed can be believed; otherwise it is left out.</param>
    /// <param name="bins">Number of bins.</param>
    public static DepthProfile? Of(ReadOnlySpan<Sample> samples, in CutFacts facts, bool depthKnown, bool speedKnown, int bins = DepthProfile.DefaultBins)
    {
        if (!facts.ContactSeen || !facts.LeaveSeen || facts.LeaveTicks <= facts.ContactTicks)
            return null;
        var depth = facts.ContactHead - facts.LeaveHead;
        var byDepth = depthKnown && depth >= CutAnalysis.LeastTravelMm;
        Span<double> seconds = stackalloc double[bins];
        Span<double> loadTime = stackalloc double[bins];
        Span<double> load = stackalloc double[bins];
        Span<double> speedTime = stackalloc double[bins];
        Span<double> speed = stackalloc double[bins];

        var fromTicks = facts.ContactTicks;
        var fromShare = 0.0;
        for (var i = facts.First; i <= facts.Last + 1; i++)
        {
            var end = i > facts.Last;
            ref readonly var sample = ref samples[Math.Min(i, facts.Last)];
            var ticks = end ? facts.LeaveTicks : Math.Clamp(sample.Ticks, facts.ContactTicks, facts.LeaveTicks);
            var share = end ? 1.0 : Share(samples, i, ticks, facts, byDepth, depth);
            if (double.IsNaN(share))
                continue;

            // A head that reads a little higher again (noise) spends its time where it was.
            share = Math.Max(share, fromShare);
            Spread(fromShare, share, (double)(ticks - fromTicks) / TimeSpan.TicksPerSecond, sample, seconds, loadTime, load, speedTime, speed);
            fromTicks = ticks;
            fromShare = share;
        }

        return new DepthProfile(
            byDepth ? ProfileBasis.Depth : ProfileBasis.TimeShare,
            byDepth ? depth : double.NaN,
            ToFloats(seconds, default),
            ToFloats(load, loadTime),
            ToFloats(speed, speedKnown ? speedTime : new double[bins]));
    }

    private static double Share(ReadOnlySpan<Sample> samples, int i, long ticks, in CutFacts facts, bool byDepth, double depth)
    {
        if (!byDepth)
            return (double)(ticks - facts.ContactTicks) / (facts.LeaveTicks - facts.ContactTicks);
        var head = CutAnalysis.SteadyHead(samples, i);
        return Math.Clamp((facts.ContactHead - head) / depth, 0, 1);
    }

    private static void Spread(double from, double to, double duration, in Sample sample, Span<double> seconds, Span<double> loadTime, Span<double> load, Span<double> speedTime, Span<double> speed)
    {
        var bins = seconds.Length;
        var first = Math.Min((int)(from * bins), bins - 1);
        var last = Math.Min((int)(to * bins), bins - 1);
        for (var bin = first; bin <= last && duration > 0; bin++)
        {
            var share = to > from ? (Math.Min(to, (bin + 1.0) / bins) - Math.Max(from, (double)bin / bins)) / (to - from) : 1;
            var time = duration * (first == last ? 1 : Math.Max(0, share));
            seconds[bin] += time;
            if (!float.IsNaN(sample.Load))
            {
                loadTime[bin] += time;
                load[bin] += sample.Load * time;
            }

            if (!float.IsNaN(sample.Speed))
            {
                speedTime[bin] += time;
                speed[bin] += sample.Speed * time;
            }
        }
    }

    private static float[] ToFloats(ReadOnlySpan<double> sums, ReadOnlySpan<double> weights)
    {
        var values = new float[sums.Length];
        for (var i = 0; i < values.Length; i++)
            values[i] = weights.IsEmpty ? (float)sums[i] : weights[i] > 0 ? (float)(sums[i] / weights[i]) : float.NaN;
        return values;
    }
}
