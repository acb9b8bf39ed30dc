namespace SawEdge.Core.Load;

/// <summary>What cannot wait for the end of the cut.</summary>
public enum LiveFindingKind : byte
{
    /// <summary>Load above the hard limit.</summary>
    Overload,

    /// <summary>Load high and the head not descending.</summary>
    Stall,

    /// <summary>Load fell to idle while the head keeps descending inside the stock.</summary>
    BladeGone,

    /// <summary>The head went down where stock was expected, and the load stayed idle.</summary>
    NoContact,

    /// <summary>Load still there after the blade must have come through.</summary>
    LoadAfterBreakthrough,

    /// <summary>A signal that must move in a cut does not.</summary>
    FrozenSignal,
}

/// <summary>Something decided on the running signal. At most one of each kind a cycle.</summary>
/// <param name="Kind">What.</param>
/// <param name="At">The frame that decided it.</param>
/// <param name="Value">The measured value that decided it: kW, mm or s, as <paramref name="Words"/> says.</param>
/// <param name="Limit">The limit it was held against, same unit.</param>
/// <param name="Words">What was seen, a sentence with numbers and units.</param>
public sealed record LiveFinding(LiveFindingKind Kind, DateTimeOffset At, double Value, double Limit, string Words);

/// <summary>The words for live findings outside the process.</summary>
public static class LiveFindings
{
    private static readonly string[] Names = ["overload", "stall", "blade_gone", "no_contact", "load_after_breakthrough", "frozen_signal"];

    /// <summary>The word for a kind, snake case.</summary>
    public static string ToName(this LiveFindingKind kind) => Names[(int)kind];
}
