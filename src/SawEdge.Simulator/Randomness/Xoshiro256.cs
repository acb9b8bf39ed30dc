namespace SawEdge.Simulator.Randomness;

/// <summary>
/// The generator xoshiro256** 1.0 of Blackman and Vigna, seeded by SplitMix64 as its authors advise. Our own copy, so
/// that a seed gives the same saws whatever the version of the runtime.
/// </summary>
public sealed class Xoshiro256
{
    private ulong _s0;
    private ulong _s1;
    private ulong _s2;
    private ulong _s3;

    /// <summary>Starts from an exact state.</summary>
    /// <exception cref="ArgumentException">All four words are zero, from which the generator cannot leave.</exception>
    public Xoshiro256(ulong s0, ulong s1, ulong s2, ulong s3)
    {
        if ((s0 | s1 | s2 | s3) == 0)
            throw new ArgumentException("At least one word of the state must differ from zero.", nameof(s0));
        (_s0, _s1, _s2, _s3) = (s0, s1, s2, s3);
    }

    /// <summary>Starts a stream that belongs to a seed and up to two numbers, for example a saw and a cycle.</summary>
    public Xoshiro256(ulong seed, ulong stream = 0, ulong item = 0)
    {
        var state = SplitMix64.Mix(seed) ^ SplitMix64.Mix(stream + 0x5EED_0001UL) ^ SplitMix64.Mix(item * 2 + 0x5EED_0003UL);
        _s0 = SplitMix64.Next(ref state);
        _s1 = SplitMix64.Next(ref state);
        _s2 = SplitMix64.Next(ref state);
        _s3 = SplitMix64.Next(ref state);
    }

    /// <summary>The next 64 bits.</summary>
    public ulong Next()
    {
        var result = ulong.RotateLeft(_s1 * 5, 7) * 9;
        var t = _s1 << 17;
        _s2 ^= _s0;
        _s3 ^= _s1;
        _s1 ^= _s2;
        _s0 ^= _s3;
        _s2 ^= t;
        _s3 = ulong.RotateLeft(_s3, 45);
        return result;
    }

    /// <summary>A number in 0 (included) to 1 (excluded), in steps of 2^-53.</summary>
    public double Uniform() => (Next() >> 11) * (1.0 / (1UL << 53));

    /// <summary>A number between two limits.</summary>
    public double Uniform(double from, double to) => from + ((to - from) * Uniform());

    /// <summary>A normal deviate, mean 0, standard deviation 1 (Box and Muller 1958).</summary>
    public double Normal() => SplitMix64.Normal(Next(), Next());

    /// <summary>A factor around 1 whose logarithm is normal: the median is 1.</summary>
    /// <param name="sigma">Standard deviation of the logarithm.</param>
    public double LogNormal(double sigma) => Math.Exp(sigma * Normal());

    /// <summary>A waiting time with the given mean, exponentially distributed.</summary>
    public double Exponential(double mean) => -mean * Math.Log(1 - Uniform());
}
