namespace SawEdge.Core.Oee;

/// <summary>What a slice of planned busy time is.</summary>
internal enum SliceKind : byte
{
    /// <summary>Work on a cut; <see cref="TimeSlice.Ref"/> is the cut.</summary>
    Work,

    /// <summary>The cycle that is still open.</summary>
    Open,

    /// <summary>Executing, and no cut came of it.</summary>
    Loose,

    /// <summary>A stop; <see cref="TimeSlice.Ref"/> is its reason.</summary>
    Stop,

    /// <summary>Not seen.</summary>
    Unknown,
}

/// <summary>A stretch of time that is one thing. Times in UTC ticks.</summary>
/// <param name="From">Begin.</param>
/// <param name="To">End.</param>
/// <param name="Kind">What it is.</param>
/// <param name="Ref">The cut, the segment or the reason; -1: none.</param>
/// <param name="IsCutting">Of work: whether it is the cutting.</param>
/// <param name="Before">Of work: ticks of the same share before this slice.</param>
internal readonly record struct TimeSlice(long From, long To, SliceKind Kind, int Ref = -1, bool IsCutting = false, long Before = 0);
