namespace SawEdge.Simulator.Randomness;

/// <summary>SplitMix64 (Steele, Lea, Flood 2014): seeds the generator, and turns a number into noise without a state.</summary>
public static class SplitMix64
{
    private const ulong Gamma = 0x9E3779B97F4A7C15UL;

    /// <summary>Moves a state on and gives the next 64 bits.</summary>
    public static ulong Next(ref ulong state)
    {
        state += Gamma;
        return Finish(state);
    }

    /// <summary>The bits that belong to one number: the first output of the generator seeded with it.</summary>
    public static ulong Mix(ulong value) => Finish(value + Gamma);

    /// <summary>A normal deviate out of two random words (Box and Muller 1958).</summary>
    public static double Normal(ulong first, ulong second)
    {
        // 1 - u lies in 2^-53..1, so the logarithm is finite.
        var u = 1 - ((first >> 11) * (1.0 / (1UL << 53)));
        var angle = 2 * Math.PI * ((second >> 11) * (1.0 / (1UL << 53)));
        return Math.Sqrt(-2 * Math.Log(u)) * Math.Cos(angle);
    }

    private static ulong Finish(ulong z)
    {
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
        return z ^ (z >> 31);
    }
}
