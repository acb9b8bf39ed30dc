using SawEdge.Evaluation.Population;
using SawEdge.Evaluation.Scenarios;

namespace SawEdge.Evaluation.Reports;

/// <summary>Blade changes that were proposed, against the true ones.</summary>
internal static class ProposalTable
{
    public static Table Make(string title, IReadOnlyList<(Mapping Mapping, long Cuts, ProposalCount Count)> saws)
    {
        var table = new Table(title, "mapped", "saws", "cuts", "changes", "proposed (95 %)", "at the very cut", "missed", "proposed wrongly", "wrong per 1,000 cuts")
        {
            Note = $"A proposal within {ProposalWatch.NearCycles} cycles of a change is right; where the blade is mapped, none is needed and each is wrong.",
        };
        foreach (var mapping in Mapping.All)
            AddRow(table, mapping.Name, [.. saws.Where(saw => ReferenceEquals(saw.Mapping, mapping))]);
        AddRow(table, "all", saws);
        return table;
    }

    private static void AddRow(Table table, string name, IReadOnlyList<(Mapping Mapping, long Cuts, ProposalCount Count)> saws)
    {
        if (saws.Count == 0)
            return;
        var cuts = saws.Sum(saw => saw.Cuts);
        int changes = saws.Sum(saw => saw.Count.Changes), right = saws.Sum(saw => saw.Count.Right), wrong = saws.Sum(saw => saw.Count.Wrong);
        table.Add(
            name, Figures.Number(saws.Count), Figures.Number(cuts), Figures.Number(changes), Figures.WithInterval(right, changes), Figures.Number(saws.Sum(saw => saw.Count.Exact)),
            Figures.Number(changes - right), Figures.Number(wrong), Figures.Number(wrong * 1000.0 / cuts));
    }
}
