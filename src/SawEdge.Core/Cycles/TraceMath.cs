namespace SawEdge.Core.Cycles;

/// <summary>Small robust statistics over stretches of a trace. NaN values are passed over.</summary>
internal static class TraceMath
{
    /// <summary>Scale of the median absolute deviation to a standard deviation of normal noise.</summary>
    /// <remarks>1 / the 3rd quartile of the standard normal distribution = 1.482602218505602.</remarks>
    public const double MadToSigma = 1.482602218505602;

    /// <summary>Median of the finite values; NaN where there is none. Reorders <paramref name="values"/>.</summary>
    public static double Median(Span<float> values)
    {
        var count = 0;
        foreach (var value in values)
        {
            if (float.IsFinite(value))
                values[count++] = value;
        }

        if (count == 0)
            return double.NaN;
        var finite = values[..count];
        finite.Sort();
        return count % 2 == 1 ? finite[count / 2] : (finite[(count / 2) - 1] + (double)finite[count / 2]) / 2;
    }

    /// <summary>Median load of samples from..to (exclusive).</summary>
    public static double MedianLoad(ReadOnlySpan<Sample> samples, int from, int to, Span<float> scratch)
    {
        from = Math.Max(from, 0);
        to = Math.Min(to, samples.Length);
        if (to <= from)
            return double.NaN;

        // A long stretch is sampled evenly: the median of a few hundred values is as good.
        var step = Math.Max(1, (to - from) / scratch.Length);
        var count = 0;
        for (var i = from; i < to && count < scratch.Length; i += step)
            scratch[count++] = samples[i].Load;
        return Median(scratch[..count]);
    }

    /// <summary>Standard deviation of the load's noise from the differences of neighbours, so that slow changes do not count.</summary>
    public static double LoadNoise(ReadOnlySpan<Sample> samples, int from, int to, Span<float> scratch)
    {
        from = Math.Max(from, 0);
        to = Math.Min(to, samples.Length);
        var step = Math.Max(1, (to - from - 1) / scratch.Length);
        var count = 0;
        for (var i = from; i + 1 < to && count < scratch.Length; i += step)
            scratch[count++] = Math.Abs(samples[i + 1].Load - samples[i].Load);

        // Two independent values differ with sqrt(2) of the noise of one.
        var median = Median(scratch[..count]);
        return double.IsNaN(median) ? 0 : median * MadToSigma / Math.Sqrt(2);
    }

    /// <summary>Median of three loads around an index, at the ends of what is there.</summary>
    public static float SmoothLoad(ReadOnlySpan<Sample> samples, int index)
    {
        var a = index > 0 ? samples[index - 1].Load : samples[index].Load;
        var b = samples[index].Load;
        var c = index + 1 < samples.Length ? samples[index + 1].Load : b;
        if (float.IsNaN(b))
            return b;
        if (float.IsNaN(a))
            a = b;
        if (float.IsNaN(c))
            c = b;
        return Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), c));
    }

    /// <summary>Median time between neighbouring samples, ticks.</summary>
    public static long MedianInterval(ReadOnlySpan<Sample> samples, Span<float> scratch)
    {
        var step = Math.Max(1, (samples.Length - 1) / scratch.Length);
        var count = 0;
        for (var i = 0; i + 1 < samples.Length && count < scratch.Length; i += step)
            scratch[count++] = samples[i + 1].Ticks - samples[i].Ticks;
        var median = Median(scratch[..count]);
        return double.IsNaN(median) ? TimeSpan.TicksPerSecond : Math.Max(1, (long)Math.Round(median));
    }

    /// <summary>The moment at which a value between two samples is crossed, ticks, by straight line.</summary>
    public static long Crossing(long fromTicks, double fromValue, long toTicks, double toValue, double level)
    {
        var share = toValue == fromValue ? 0.5 : Math.Clamp((level - fromValue) / (toValue - fromValue), 0, 1);
        return fromTicks + (long)Math.Round(share * (toTicks - fromTicks));
    }
}
