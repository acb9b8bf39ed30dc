using SawEdge.Core.Comparison;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>What the history says about the standards.</summary>
/// <param name="Kinds">Kind by kind, in the order of their names.</param>
/// <param name="Materials">The materials whose rates are the catalogue's.</param>
/// <param name="Changes">The rates that are proposed.</param>
/// <param name="Tally">What was taken and what was left out.</param>
/// <param name="Least">Cuts without which nothing is said.</param>
/// <param name="IsConverted">Whether standards of another day were converted into the configuration's.</param>
internal sealed record StandardsResult(
    IReadOnlyList<KindAgainstStandard> Kinds,
    IReadOnlyList<MaterialAgainstStandard> Materials,
    IReadOnlyList<RateChange> Changes,
    CutTally Tally,
    int Least,
    bool IsConverted);
