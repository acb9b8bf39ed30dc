using SawEdge.Core.Cutting;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>What was asked, read and checked, with where its numbers come from.</summary>
internal sealed record EstimateRequest
{
    /// <summary>The question.</summary>
    public required EstimateQuestion Question { get; init; }

    /// <summary>What the saw is called in the result.</summary>
    public required string SawName { get; init; }

    /// <summary>Where a number of the saw comes from, by its setting, for example <c>ratedPower</c>.</summary>
    public required Func<string, string> SourceOf { get; init; }

    /// <summary>Whether the blade's kerf was stated; otherwise the usual one is taken.</summary>
    public bool KerfIsStated { get; init; }

    /// <summary>Doubts about what was written, a line each.</summary>
    public IReadOnlyList<string> Doubts { get; init; } = [];
}
