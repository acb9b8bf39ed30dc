namespace SawEdge.Core.Materials;

/// <summary>How well a number is founded.</summary>
public enum Provenance : byte
{
    /// <summary>Read in a published source.</summary>
    Published,

    /// <summary>Read in a published source whose row could not be told for certain.</summary>
    PublishedUncertain,

    /// <summary>Worked out from published numbers.</summary>
    Derived,

    /// <summary>Common practice of the trade, no source.</summary>
    CommonPractice,

    /// <summary>From memory, not checked against a source.</summary>
    FromMemory,

    /// <summary>Given by the plant itself: its job list, its own file, its machine's settings.</summary>
    Plant,

    /// <summary>Measured in the cut.</summary>
    Measured,
}

/// <summary>A number and where it comes from.</summary>
/// <param name="Value">The number, in the unit of the member that holds it.</param>
/// <param name="Provenance">How well it is founded.</param>
/// <param name="Source">The source in words.</param>
public readonly record struct Sourced(double Value, Provenance Provenance, string Source);
