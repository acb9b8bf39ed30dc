namespace SawEdge.Core.Cycles;

/// <summary>How a cut ended, as far as it was seen.</summary>
public enum CutOutcome : byte
{
    /// <summary>The blade went through the stock from contact to breakthrough.</summary>
    Completed,

    /// <summary>A full cut that squares a bar's end and yields no part.</summary>
    Trim,

    /// <summary>Stopped short on purpose, as for a notch, with an orderly retract.</summary>
    Partial,

    /// <summary>Seen to be given up before breakthrough: a fault, a stop, the head taken out of the stock.</summary>
    Aborted,

    /// <summary>Observation broke off in the cut, and what came after shows that the cut was not finished.</summary>
    Interrupted,

    /// <summary>The first observed frame of the cut already lay inside the stock.</summary>
    UnobservedStart,

    /// <summary>Observation broke off in the cut; the saw went on, but the end was not seen.</summary>
    UnobservedEnd,
}

/// <summary>The words for outcomes outside the process.</summary>
public static class CutOutcomes
{
    private static readonly string[] Names = ["completed", "trim", "partial", "aborted", "interrupted", "unobserved_start", "unobserved_end"];

    /// <summary>The word for an outcome, snake case.</summary>
    public static string ToName(this CutOutcome outcome) => Names[(int)outcome];

    /// <summary>The outcome for a word.</summary>
    /// <exception cref="FormatException">The word is none of the outcomes.</exception>
    public static CutOutcome Parse(string name)
    {
        var index = Array.IndexOf(Names, name);
        return index >= 0 ? (CutOutcome)index : throw new FormatException($"'{name}' is no outcome; expected one of {string.Join(", ", Names)}.");
    }
}
