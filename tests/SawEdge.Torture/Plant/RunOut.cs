using SawEdge.EndToEnd.Tests.Support;

namespace SawEdge.Torture.Plant;

/// <summary>The orderly end of a trial.</summary>
internal static class RunOut
{
    /// <summary>Share of cycles of which records and what is stated may say too much or too little: two that nothing seen between them tells from one another are rare, and have to stay so.</summary>
    public const double Tolerated = 0.001;

    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);

    /// <summary>Lets each saw make three more parts where its frames were interrupted, so that what was missed is known, or one at all, stops it between two cycles, and waits until its last cycle is in the history.</summary>
    public static async Task<bool> OfAsync(TrialRun run, SawBay bay, GatewayProcess gateway, GatewayFolder folder, bool interrupted, HistoryFile? history = null)
    {
        // Parts that were made in an interruption are counted first.
        var now = TimeProvider.System.GetUtcNow();
        if (interrupted && !await gateway.ComesAsync(run, () => bay.Saws.All(saw => saw.Observed.Gaps()[^1].From > now), $"each saw is asked", Patience))
            return false;
        var since = bay.Saws.ToDictionary(saw => saw, saw => interrupted ? saw.Observed.Steps + 2 : 0);
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
            $"each saw has made its parts and stands",
            Patience);
        if (!stopped)
            return false;
        run.Say($"the saws stand");
        var last = bay.Saws.ToDictionary(saw => saw.Name, saw => saw.Finished()[^1].Truth.PartCount, StringComparer.Ordinal);
        return await gateway.ComesAsync(run, () => last.All(of => (history ?? folder.History).Cycles(of.Key) is [.., var newest] && newest.Whole("part_count") == of.Value), $"the last cycle of each saw is in the history", Patience);
    }

    /// <summary>Holds all records against what the saws did, and what is stated of cycles that were not seen.</summary>
    public static PlantAccount Account(TrialRun run, SawBay bay, HistoryFile history)
    {
        var truth = new RecordsAgainstTruth(run);
        var all = new List<SawAccount>();
        var (stated, unaccounted) = (0L, 0L);
        foreach (var saw in bay.Saws)
        {
            var records = history.Cycles(saw.Name);
            var account = truth.Check(saw, records);
            all.Add(account);
            var said = RecordsAgainstTruth.Stated(records);
            stated += said;
            unaccounted += Math.Abs(account.Missing - said);
            if (account.Missing != said)
                run.Say($"{saw.Name}: {account.Missing} cycles have no record, and {said} are stated");
        }

        var cycles = all.Sum(account => account.Cycles);
        run.Check(truth.Wrong <= 1 + (cycles * Tolerated), $"{truth.Wrong} of {cycles} records are not what was");
        run.Check(unaccounted <= 1 + (cycles * Tolerated), $"{unaccounted} of {cycles} cycles are neither recorded nor stated, or are stated without having been");
        return new PlantAccount(cycles, all.Sum(account => account.Records), all.Sum(account => account.Whole), all.Sum(account => account.Missing), stated, unaccounted, truth.Wrong, all.Sum(account => account.Off));
    }
}

/// <summary>What became of the cycles of all saws.</summary>
/// <param name="Cycles">Cycles that really were, from the first that is in the history on.</param>
/// <param name="Records">Records of them.</param>
/// <param name="Whole">Cycles that the gateway saw from begin to end.</param>
/// <param name="Missing">Cycles without a record.</param>
/// <param name="Stated">Cycles that notes state as not seen.</param>
/// <param name="Unaccounted">Cycles that are neither recorded nor stated, or stated without having been.</param>
/// <param name="Wrong">What single records say that was not so.</param>
/// <param name="Off">Cycles seen whole whose contact or breakthrough is off by more than the frames allow.</param>
internal sealed record PlantAccount(int Cycles, int Records, int Whole, int Missing, long Stated, long Unaccounted, int Wrong, int Off)
{
    /// <summary>Puts all of it among the figures of a trial.</summary>
    public void Tell(TrialRun run)
    {
        run.Figure("cycles", $"{Cycles}");
        run.Figure("seen whole", $"{Whole}");
        run.Figure("of these timed wrongly", $"{Off}");
        run.Figure("recorded", $"{Records}");
        run.Figure("otherwise than they were", $"{Wrong}");
        run.Figure("missed", $"{Missing}");
        run.Figure("stated in the notes", $"{Stated}");
        run.Figure("that nothing tells of", $"{Unaccounted}");
    }
}
