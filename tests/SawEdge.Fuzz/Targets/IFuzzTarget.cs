namespace SawEdge.Fuzz.Targets;

/// <summary>Something that must take any bytes.</summary>
internal interface IFuzzTarget
{
    /// <summary>Its name on the command line and of its folder of kept inputs.</summary>
    string Name { get; }

    /// <summary>Longest input that is made, bytes.</summary>
    int MaximumLength { get; }

    /// <summary>Inputs to begin with.</summary>
    IEnumerable<byte[]> Seeds { get; }

    /// <summary>Pieces that an input is likely to need.</summary>
    IReadOnlyList<byte[]> Tokens { get; }

    /// <summary>Most that one input may allocate, bytes.</summary>
    long MostAllocated(int length);

    /// <summary>Makes checksums and lengths right, so that what lies behind them is reached.</summary>
    void FixUp(Span<byte> input);

    /// <summary>Gives an input to the code.</summary>
    /// <exception cref="FuzzFinding">Something that must always hold did not.</exception>
    void Run(ReadOnlySpan<byte> input);
}

/// <summary>Something that must always hold did not.</summary>
internal sealed class FuzzFinding(string message) : Exception(message)
{
    /// <summary>Fails where a condition does not hold.</summary>
    public static void Unless(bool condition, string message)
    {
        if (!condition)
            throw new FuzzFinding(message);
    }
}
