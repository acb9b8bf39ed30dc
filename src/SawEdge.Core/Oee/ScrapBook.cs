namespace SawEdge.Core.Oee;

/// <summary>Finds the parts that entries about scrap mean.</summary>
internal static class ScrapBook
{
    /// <summary>Marks the cuts that are scrap.</summary>
    /// <returns>The entries that found no part, or not enough of them.</returns>
    public static IReadOnlyList<ScrapEntry> Assign(OeeInput input, IReadOnlyList<AccountCut> cuts)
    {
        var unassigned = new List<ScrapEntry>();
        var byId = cuts.ToDictionary(cut => cut.Id);
        foreach (var entry in input.Scrap.Where(entry => entry.CycleId is not null))
        {
            // A cut that is not here is one of another period.
            if (!byId.TryGetValue(entry.CycleId!, out var cut))
                continue;
            if (cut.IsPart)
                cut.IsScrap = true;
            else
                unassigned.Add(entry);
        }

        foreach (var entry in input.Scrap.Where(entry => entry.CycleId is null && input.Period.Contains(entry.At)).OrderBy(entry => entry.At))
        {
            var left = entry.Quantity - Mark(entry, input.Calendar.ShiftAt(entry.At), cuts);
            if (left > 0)
                unassigned.Add(entry with { Quantity = left });
        }

        return unassigned;
    }

    private static int Mark(ScrapEntry entry, Shift? shift, IReadOnlyList<AccountCut> cuts)
    {
        var marked = 0;
        for (var i = cuts.Count - 1; i >= 0 && marked < entry.Quantity; i--)
        {
            var cut = cuts[i];
            if (shift is null || cut.To <= shift.Time.From.UtcTicks)
                break;
            if (!cut.IsPart || cut.IsScrap || cut.To > entry.At.UtcTicks || (entry.Job.Length > 0 && cut.Job != entry.Job))
                continue;
            cut.IsScrap = true;
            marked++;
        }

        return marked;
    }
}
