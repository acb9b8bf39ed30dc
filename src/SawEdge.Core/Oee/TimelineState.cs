namespace SawEdge.Core.Oee;

/// <summary>What a saw is doing, in the words of OPC 40001-1 (MachineryItemState, https://reference.opcfoundation.org/specs/OPC-40001-1/12), and unknown.</summary>
public enum TimelineState : byte
{
    /// <summary>The gateway did not see the saw. Neither uptime nor downtime.</summary>
    Unknown,

    /// <summary>It runs a cycle.</summary>
    Executing,

    /// <summary>It could run and waits for someone or something.</summary>
    NotExecuting,

    /// <summary>It is switched off, and its controller says so. A saw that has gone dark without a word is unknown.</summary>
    NotAvailable,

    /// <summary>It cannot run: a fault.</summary>
    OutOfService,
}

/// <summary>The words for states outside the process.</summary>
public static class TimelineStateNames
{
    private static readonly string[] Names = ["unknown", "executing", "not_executing", "not_available", "out_of_service"];

    /// <summary>The word for a state, snake case.</summary>
    public static string ToName(this TimelineState state) => Names[(int)state];

    /// <summary>The state for a word.</summary>
    /// <exception cref="FormatException">The word is none of the states.</exception>
    public static TimelineState Parse(string name)
    {
        var index = Array.IndexOf(Names, name);
        return index >= 0 ? (TimelineState)index : throw new FormatException($"'{name}' is no state; expected one of {string.Join(", ", Names)}.");
    }
}

/// <summary>A stretch of time in which a saw did one thing.</summary>
/// <param name="From">Its begin, UTC.</param>
/// <param name="To">Its end, UTC, which no longer belongs to it.</param>
/// <param name="State">What it did.</param>
/// <param name="Reason">Why it stood, as the controller tells: <c>fault 17</c>, <c>switched off</c>; empty where nothing tells.</param>
/// <param name="Job">The job at the controller, or empty. A saw that stands with a job is delayed; without one, nothing was to be done.</param>
public sealed record StateSegment(DateTimeOffset From, DateTimeOffset To, TimelineState State, string Reason = "", string Job = "")
{
    /// <summary>Its length.</summary>
    public TimeSpan Duration => To - From;

    /// <summary>Whether the other says the same of its time.</summary>
    internal bool IsLike(StateSegment other) => State == other.State && Reason == other.Reason && Job == other.Job;
}
