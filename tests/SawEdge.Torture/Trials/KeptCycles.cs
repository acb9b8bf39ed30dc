using System.Text.RegularExpressions;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Gateway.History;

namespace SawEdge.Torture.Trials;

/// <summary>Everything that was ever said to be stored, held against the history each time the gateway is gone.</summary>
internal sealed partial class KeptCycles(TrialRun run, HistoryFile history)
{
    /// <summary>What the gateway logs once a cycle is on the disk.</summary>
    private const int CycleFinished = 3000;

    private readonly Dictionary<string, string> _outcomes = new(StringComparer.Ordinal);
    private readonly HashSet<string> _findings = new(StringComparer.Ordinal);
    private readonly HashSet<string> _promised = new(StringComparer.Ordinal);

    /// <summary>Takes the cycles that a gateway said are finished, and what it may not say at all.</summary>
    public void Heard(IReadOnlyList<LogLine> log)
    {
        foreach (var line in log)
        {
            if (line.EventId == CycleFinished && CycleId().Match(line.Message) is { Success: true } id)
                _promised.Add(id.Groups[1].Value);
            run.Check(line.Level is not ("Error" or "Critical"), $"the gateway said: {line.Message}");
        }
    }

    /// <summary>Checks the file, and that nothing that was there or was promised is gone.</summary>
    public async Task CheckAsync(string when, CancellationToken cancellation)
    {
        if (!File.Exists(history.Path))
            return;
        var integrity = await history.IntegrityAsync();
        run.Check(integrity == "ok", $"{when}: sqlite3 says {integrity}");
        var check = HistoryCheck.Run(history.Path, (_, _) => { }, cancellation);
        foreach (var finding in check.Findings.Where(_findings.Add))
            run.Check(false, $"{when}: history check finds {finding}");

        var cycles = history.Cycles();
        var there = cycles.ToLookup(cycle => cycle.Id, StringComparer.Ordinal);
        foreach (var twice in there.Where(of => of.Count() > 1))
            run.Check(false, $"{when}: {twice.Key} is there {twice.Count()} times");
        foreach (var id in _promised.Concat(_outcomes.Keys).Distinct().Where(id => !there.Contains(id)))
            run.Check(false, $"{when}: {id} was stored and is gone");
        foreach (var cycle in cycles)
        {
            run.Check(!_outcomes.TryGetValue(cycle.Id, out var outcome) || outcome == cycle.Outcome, $"{when}: {cycle.Id} was {outcome} and is {cycle.Outcome}");
            _outcomes[cycle.Id] = cycle.Outcome;
        }

        // What is gone was told once.
        _promised.IntersectWith(there.Select(of => of.Key));
    }

    [GeneratedRegex(@"\(([^()]+)\)$")]
    private static partial Regex CycleId();
}
