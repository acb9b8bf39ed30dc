using System.Diagnostics;
using SawEdge.Evaluation.Play;
using SawEdge.Evaluation.Reports;
using SawEdge.Evaluation.Scenarios;

namespace SawEdge.Evaluation;

/// <summary>Plays the saws of a set of seeds, several at a time, and writes the tables.</summary>
internal static class Evaluation
{
    public static void Run(EvaluationOptions options, TextWriter output, TextWriter progress)
    {
        var months = Play("months", options, options.MonthsSaws, MonthsScenario.Play, progress);
        var faults = Play("faults", options, options.FaultsSaws, FaultsScenario.Play, progress);
        var lives = Play("lives", options, options.LivesSaws, LivesScenario.Play, progress);

        var runs = months.Select(saw => saw.Run).Concat(faults.Select(saw => saw.Run)).Concat(lives.Select(saw => saw.Run)).ToArray();
        string[] head =
        [
            $"Load score, algorithm {Core.Load.LoadAssessment.Algorithm}, {options.Set.Name} set: seeds {options.Set.First} to {options.Set.First + (ulong)options.Seeds - 1}.",
            $"{Figures.Number(runs.Length)} saws ({months.Length} without faults, {faults.Length} with faults, {lives.Length} for blade lives), {Figures.Number(runs.Sum(run => run.Cycles))} cycles, {Figures.Number(runs.Sum(run => run.Frames))} frames.",
            $"{Figures.Number(months.Sum(saw => saw.Result.Cuts))} cuts judged without faults, {Figures.Number(faults.Sum(saw => saw.Result.Episodes.Count))} episodes, {Figures.Number(lives.Sum(saw => saw.Result.Lives.Count))} blade lives; {Figures.Number(runs.Sum(run => run.Unmatched))} records of no cycle, {Figures.Number(runs.Sum(run => run.Corrections))} corrected later.",
        ];
        var tables = new List<Table>();
        if (months.Length > 0)
            tables.AddRange(MonthsTables.Make([.. months.Select(saw => saw.Result)]));
        if (faults.Length > 0)
            tables.AddRange(FaultsTables.Make([.. faults.Select(saw => saw.Result)]));
        if (lives.Length > 0)
            tables.AddRange(LivesTables.Make([.. lives.Select(saw => (saw.Result, saw.Run.Cycles))]));
        Table.Write(head, tables, options.Format, output);
    }

    // Each saw is a world of its own and its result has a place of its own: the order in which they finish changes nothing.
    private static (T Result, RunCounts Run)[] Play<T>(string name, EvaluationOptions options, int sawsOfSeed, Func<ulong, int, string?, (T Result, RunCounts Run)> play, TextWriter progress)
    {
        var saws = options.Set.Take(options.Seeds).SelectMany(seed => Enumerable.Range(0, sawsOfSeed).Select(number => (Seed: seed, Number: number))).ToArray();
        var results = new (T Result, RunCounts Run)[saws.Length];
        var started = Stopwatch.GetTimestamp();
        var done = 0;
        Parallel.For(0, saws.Length, new ParallelOptions { MaxDegreeOfParallelism = options.Parallel }, i =>
        {
            results[i] = play(saws[i].Seed, saws[i].Number, options.Dump);
            var count = Interlocked.Increment(ref done);
            lock (progress)
                progress.WriteLine(FormattableString.Invariant($"{name} {count}/{saws.Length} saws, {Stopwatch.GetElapsedTime(started).TotalSeconds:0} s"));
        });
        return results;
    }
}
