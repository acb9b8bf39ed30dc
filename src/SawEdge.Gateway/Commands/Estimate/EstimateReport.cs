using SawEdge.Core.Cutting;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>One number of an estimate.</summary>
/// <param name="Name">Its name in JSON, with its unit.</param>
/// <param name="Label">What it is called for people.</param>
/// <param name="Value">The number; null where it is not known.</param>
/// <param name="Unit">Its metric unit; empty for a count.</param>
internal sealed record EstimateFigure(string Name, string Label, double? Value, string Unit);

/// <summary>One result of an estimate with what led to it.</summary>
/// <param name="Key">Its name in JSON.</param>
/// <param name="Title">What it is called for people.</param>
internal sealed record EstimateItem(string Key, string Title)
{
    /// <summary>The numbers.</summary>
    public required IReadOnlyList<EstimateFigure> Figures { get; init; }

    /// <summary>The numbers that led to them, each with where it comes from.</summary>
    public IReadOnlyList<RateFactor> Factors { get; init; } = [];

    /// <summary>How the factors make the figures, in one line.</summary>
    public string Rule { get; init; } = "";

    /// <summary>What is not known and would be needed.</summary>
    public IReadOnlyList<string> Missing { get; init; } = [];

    /// <summary>What a reader should know about the figures, in whole sentences.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];
}

/// <summary>An estimate ready to be printed, for people or for programs.</summary>
/// <param name="Subject">What was asked about: name, value and what there is to say of it for people, in order.</param>
/// <param name="BladeIsStated">Whether the blade was stated with the question.</param>
/// <param name="Items">The results, in order.</param>
/// <param name="Advice">Advice on the job, in whole sentences.</param>
internal sealed record EstimateReport(IReadOnlyList<(string Name, string Value, string Remark)> Subject, bool BladeIsStated, IReadOnlyList<EstimateItem> Items, IReadOnlyList<string> Advice)
{
    /// <summary>What holds for every estimate.</summary>
    public const string Caution = "A catalogue rate is a starting point. The plant's own blades, saws and suppliers decide.";
}
