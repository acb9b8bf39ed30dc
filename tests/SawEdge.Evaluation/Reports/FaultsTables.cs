using SawEdge.Evaluation.Population;
using SawEdge.Evaluation.Scenarios;

namespace SawEdge.Evaluation.Reports;

/// <summary>What the saws with faults gave.</summary>
internal static class FaultsTables
{
    // The goals of the issue.
    private const double SevereRecall = 0.95;
    private const double ModerateRecall = 0.8;
    private const double CauseRight = 0.8;
    private const int LiveFrames = 2;

    public static IEnumerable<Table> Make(IReadOnlyList<FaultsResult> saws)
    {
        Episode[] episodes = [.. saws.SelectMany(saw => saw.Episodes)];
        yield return Found(episodes, "Faults found, all saws");
        yield return Found([.. episodes.Where(episode => episode.Mapping.IsFull)], "Faults found, head and job mapped");
        yield return ByMapping(episodes);
        yield return Live(episodes);
        yield return Quiet(saws);
    }

    private static Table Found(Episode[] episodes, string title)
    {
        var table = new Table(title, "fault", "severity", "strength", "episodes", "found (95 %)", "goal", "cuts until found p50/p90", "cause right at the call", "in the end", "goal", "named instead")
        {
            Note = $"An episode is found by a cut with a score of at least {FaultsScenario.CallScore}, or by a live finding that fits. Goals: severe faults and events {SevereRecall}, moderate {ModerateRecall}; first-ranked cause right in {CauseRight} of the found.",
        };
        foreach (var cell in FaultTable.Cells)
            AddRow(table, cell.Fault, cell.Severity, cell.Strength, [.. episodes.Where(episode => ReferenceEquals(episode.Cell, cell))]);
        foreach (var severity in Enum.GetValues<Severity>())
            AddRow(table, "all", severity, "", [.. episodes.Where(episode => episode.Cell.Severity == severity)]);
        var found = episodes.Where(episode => episode.IsFound).ToArray();
        table.Add(
            "all", "all", "", Figures.Number(episodes.Length), Figures.WithInterval(found.Length, episodes.Length), Figures.None, Delay(found), Right(found), RightInTheEnd(found),
            Figures.Goal(found.Count(episode => episode.IsRight) >= CauseRight * found.Length, found.Length > 0), "");
        return table;
    }

    private static void AddRow(Table table, string fault, Severity severity, string strength, Episode[] episodes)
    {
        if (episodes.Length == 0)
            return;
        var found = episodes.Where(episode => episode.IsFound).ToArray();
        var share = (double)found.Length / episodes.Length;
        var goal = severity switch
        {
            Severity.Severe or Severity.Event => Figures.Goal(share >= SevereRecall),
            Severity.Moderate => Figures.Goal(share >= ModerateRecall),
            _ => Figures.None,
        };
        var instead = found.Where(episode => !episode.IsRight).GroupBy(episode => episode.CauseAtCall.Length > 0 ? episode.CauseAtCall : "none", StringComparer.Ordinal)
            .OrderByDescending(group => group.Count()).ThenBy(group => group.Key, StringComparer.Ordinal).Take(3).Select(group => $"{group.Key} {group.Count()}");
        table.Add(
            fault, severity.ToString().ToLowerInvariant(), strength, Figures.Number(episodes.Length), Figures.WithInterval(found.Length, episodes.Length), goal, Delay(found), Right(found), RightInTheEnd(found),
            Figures.Goal(found.Count(episode => episode.IsRight) >= CauseRight * found.Length, found.Length > 0), string.Join(", ", instead));
    }

    private static string Delay(Episode[] found)
    {
        var delays = found.Select(episode => (double)episode.CutsUntilFound!.Value).ToArray();
        return found.Length == 0 ? Figures.None : $"{Figures.Number(Figures.Quantile(delays, 0.5), "0.#")}/{Figures.Number(Figures.Quantile(delays, 0.9), "0.#")}";
    }

    private static string Right(Episode[] found) => Figures.Share(found.Count(episode => episode.IsRight), found.Length);

    private static string RightInTheEnd(Episode[] found) => Figures.Share(found.Count(episode => episode.IsRightInTheEnd), found.Length);

    private static Table ByMapping(Episode[] episodes)
    {
        var severities = Enum.GetValues<Severity>();
        var table = new Table("Share found by what is mapped", ["mapped", .. severities.Select(severity => severity.ToString().ToLowerInvariant()), "cause right at the call"]);
        foreach (var mapping in Mapping.All)
        {
            var of = episodes.Where(episode => ReferenceEquals(episode.Mapping, mapping)).ToArray();
            if (of.Length == 0)
                continue;
            var found = of.Where(episode => episode.IsFound).ToArray();
            table.Add(
            [
                mapping.Name,
                .. severities.Select(severity => Figures.WithInterval(found.Count(episode => episode.Cell.Severity == severity), of.Count(episode => episode.Cell.Severity == severity))),
                Right(found),
            ]);
        }

        foreach (var interval in episodes.Select(episode => episode.IntervalS).Distinct().Order())
        {
            var of = episodes.Where(episode => episode.IntervalS == interval && episode.Mapping.IsFull).ToArray();
            var found = of.Where(episode => episode.IsFound).ToArray();
            table.Add(
            [
                $"head and job, every {Figures.Number(interval)} s",
                .. severities.Select(severity => Figures.WithInterval(found.Count(episode => episode.Cell.Severity == severity), of.Count(episode => episode.Cell.Severity == severity))),
                Right(found),
            ]);
        }

        return table;
    }

    private static Table Live(Episode[] episodes)
    {
        var table = new Table("Called while the cut runs", "event", "head", "episodes", "evidence there", "called live (95 %)", "frames after the evidence p50/p90/max", $"within {LiveFrames} frames", "goal: all", "s after the moment p50/p90")
        {
            Note = "The evidence of a blade break: load at or below idle and 15 % of the net load before, and the head 0.3 mm further. Of a stall: load above rated, and the head where it was a frame before. Both without measuring noise, through the transducer's lag. Where it never came before the controller itself stopped, nothing can be called.",
        };
        foreach (var fault in new[] { "blade_break", "stall", "no_stock", "stuck_load", "stuck_head" })
        {
            foreach (var head in new[] { true, false })
            {
                var of = episodes.Where(episode => episode.Cell.Fault == fault && episode.Mapping.Has(Core.Signals.Signal.HeadPosition) == head).ToArray();
                if (of.Length > 0)
                    table.Add(LiveRow(fault, head, of));
            }
        }

        return table;
    }

    private static string[] LiveRow(string fault, bool head, Episode[] of)
    {
        var timed = of.Any(episode => episode.Moment is not null);
        var able = timed ? [.. of.Where(episode => episode.EvidenceFrame is not null)] : of;
        var called = able.Where(episode => episode.FindingFrame is not null).ToArray();
        var frames = called.Where(episode => timed).Select(episode => (double)(episode.FindingFrame!.Value - episode.EvidenceFrame!.Value)).ToArray();
        var seconds = called.Select(episode => episode.FindingDelayS).OfType<double>().ToArray();
        var soon = frames.Count(delay => delay <= LiveFrames);
        return
        [
            fault, head ? "mapped" : "not mapped", Figures.Number(of.Length), timed ? Figures.Number(able.Length) : Figures.None, Figures.WithInterval(called.Length, able.Length),
            frames.Length == 0 ? Figures.None : $"{Figures.Number(Figures.Quantile(frames, 0.5))}/{Figures.Number(Figures.Quantile(frames, 0.9))}/{Figures.Number(frames.Max())}",
            timed ? Figures.WithInterval(soon, able.Length) : Figures.None,
            timed && head ? Figures.Goal(soon == able.Length, able.Length > 0) : Figures.None,
            seconds.Length == 0 ? Figures.None : $"{Figures.Number(Figures.Quantile(seconds, 0.5))}/{Figures.Number(Figures.Quantile(seconds, 0.9))}",
        ];
    }

    private static Table Quiet(IReadOnlyList<FaultsResult> saws)
    {
        var table = new Table("Between the episodes", "cuts", "score >= 3 per 1,000 cuts")
        {
            Note = "What a fault leaves behind: after-effects of wrong learning show here.",
        };
        long cuts = saws.Sum(saw => saw.QuietCuts), alarms = saws.Sum(saw => saw.QuietAlarms);
        table.Add(Figures.Number(cuts), cuts == 0 ? Figures.None : Figures.Number(alarms * 1000.0 / cuts));
        return table;
    }
}
