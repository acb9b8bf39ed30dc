namespace SawEdge.Simulator.Randomness;

/// <summary>
/// Noise as a function of time instead of a stream: whoever asks for a moment, in whatever order and however often,
/// gets the same value. That makes a sample independent of the sampling interval.
/// </summary>
public readonly struct NoiseField
{
    private readonly ulong _key;

    /// <summary>A field of its own for each seed and channel.</summary>
    public NoiseField(ulong seed, ulong channel) => _key = SplitMix64.Mix(seed) ^ SplitMix64.Mix(channel + 0xC4A77E1UL);

    /// <summary>White noise, mean 0, standard deviation 1: one value a millisecond.</summary>
    /// <param name="ticks">Time in ticks of 100 ns.</param>
    public double White(long ticks) => At((ulong)(ticks / TimeSpan.TicksPerMillisecond));

    /// <summary>Slow drift, mean 0, standard deviation 1: independent values on a grid, joined smoothly.</summary>
    /// <param name="ticks">Time in ticks of 100 ns.</param>
    /// <param name="gridTicks">Distance of the independent values.</param>
    public double Drift(long ticks, long gridTicks)
    {
        var cell = Math.DivRem(ticks, gridTicks, out var rest);
        var share = (double)rest / gridTicks;
        // Joined on a quarter circle, which keeps the variance at 1 between the grid points as well.
        var (sin, cos) = Math.SinCos(share * share * (3 - (2 * share)) * (Math.PI / 2));
        return (cos * At((ulong)cell)) + (sin * At((ulong)(cell + 1)));
    }

    private double At(ulong index)
    {
        var state = _key ^ (index * 0xD1342543DE82EF95UL);
        var first = SplitMix64.Next(ref state);
        return SplitMix64.Normal(first, SplitMix64.Next(ref state));
    }
}
