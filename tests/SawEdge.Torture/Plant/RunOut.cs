using SawEdge.EndToEnd.Tests.Support;

namespace SawEdge.Torture.Plant;

/// <summary>The orderly end of a trial.</summary>
internal static class RunOut
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    /// <summary>Lets each saw make one more part where its frames were interrupted, or one at all, stops it between two cycles, and waits until its last cycle is in the history.</summary>
    public static async Task<bool> OfAsync(TrialRun run, SawBay bay, GatewayProcess gateway, GatewayFolder folder, bool interrupted, HistoryFile? history = null)
    {
        // Parts that were made in an interruption are counted first.
        var now = TimeProvider.System.GetUtcNow();
        if (interrupted && !await gateway.ComesAsync(run, () => bay.Saws.All(saw => saw.Observed.Gaps()[^1].From > now), $"each saw is asked", Patience))
            return false;
        var since = bay.Saws.ToDictionary(saw => saw, saw => interrupted ? saw.Observed.Steps : 0);
        var running = bay.Saws.ToHashSet();
        var stopped = await gateway.ComesAsync(
            run,
            () =>
            {
                foreach (var saw in running.Where(saw => saw.Observed.Steps > since[saw] && saw.IsIdle).ToList())
                {
                    saw.Hold();
                    running.Remove(saw);
                }

                return running.Count == 0;
            },
            $"each saw has made a part and stands",
            Patience);
        if (!stopped)
            return false;
        run.Say($"the saws stand");
        var last = bay.Saws.ToDictionary(saw => saw.Name, saw => saw.Finished()[^1].Truth.PartCount, StringComparer.Ordinal);
        return await gateway.ComesAsync(run, () => last.All(of => (history ?? folder.History).Cycles(of.Key) is [.., var newest] && newest.Whole("part_count") == of.Value), $"the last cycle of each saw is in the history", Patience);
    }

    /// <summary>Holds all records against what the saws did, and the part counter against both.</summary>
    /// <returns>Cycles that were, records of them, and cycles that were seen from begin to end.</returns>
    public static (int Cycles, int Records, int Whole) Account(TrialRun run, SawBay bay, HistoryFile history)
    {
        var truth = new RecordsAgainstTruth(run);
        var all = new List<SawAccount>();
        foreach (var saw in bay.Saws)
        {
            var records = history.Cycles(saw.Name);
            var account = truth.Check(saw, records);
            all.Add(account);
            var missed = RecordsAgainstTruth.Missed(records);
            run.Check(account.Records + missed == account.Cycles, $"{saw.Name}: {account.Records} records and {missed} by the counter are not the {account.Cycles} cycles that were");
        }

        return (all.Sum(account => account.Cycles), all.Sum(account => account.Records), all.Sum(account => account.Whole));
    }
}
