using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Saws;
using SawEdge.Torture.Plant;

namespace SawEdge.Torture.Trials;

/// <summary>
/// Frames are missing at random, as kills and bad lines leave them, before the pipeline alone, which is started anew after none, half or all of them:
/// many thousand cycles in the time in which a process is killed a few times, so that the rare meeting of a gap and a turn of the saw is met too.
/// Virtual time, no process.
/// </summary>
internal sealed class GapsTrial : ITrial
{
    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(200);
    private static readonly TimeSpan Work = TimeSpan.FromMinutes(10);
    private static readonly TimeSpan Sampling = TimeSpan.FromSeconds(0.5);

    /// <inheritdoc/>
    public string Name => "gaps";

    /// <inheritdoc/>
    public string Describes => "frames are missing at random, seconds to a minute at a time, more often than they are there, by bad lines and by kills; the pipeline alone, in virtual time";

    /// <inheritdoc/>
    public Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        var (cycles, records, gaps, late, wrong, untold) = (0, 0, 0, 0, new List<string>(), new List<string>());
        for (var saw = 0; saw < run.Count(shortForm: 60, longForm: 3000) && !run.IsTimeUp && run.Failures.Count < 20 && wrong.Count < 100; saw++)
        {
            cancellation.ThrowIfCancellationRequested();
            var seed = run.Random.Next(1, int.MaxValue);
            var (truths, cuts, missing, unstated) = Play(new Random(seed), (ulong)seed, saw % 3 * 0.5);
            Check(run, wrong, seed, truths, cuts, missing);
            late += Account(untold, seed, truths, cuts, unstated);
            (cycles, records, gaps) = (cycles + truths.Count, records + cuts.Count, gaps + missing.Count);
        }

        run.Check(wrong.Count <= 1 + (cycles * RunOut.Tolerated), $"of {cycles} cycles are recorded twice or called unfinished: {string.Join(" AND ", wrong)}");
        run.Check(untold.Count <= 1 + (cycles * RunOut.Tolerated), $"what is stated and the records are not what was, at {untold.Count} saws: {string.Join('\n', untold.Take(3))}");
        run.Figure("cycles", $"{cycles}");
        run.Figure("gaps", $"{gaps}");
        run.Figure("records, none of a cycle that was not", $"{records}");
        run.Figure("saws where records and what is stated are not all cycles", $"{untold.Count}");
        run.Figure("records whose notes state a count that was still due before them, a record later", $"{late}");
        run.Figure("of a cycle that has one already, or of a finished cut called unfinished", $"{wrong.Count}");
        return Task.CompletedTask;
    }

    private static (IReadOnlyList<SawTruth> Truths, List<Cut> Cuts, List<(DateTimeOffset From, DateTimeOffset To)> Gaps, long Unstated) Play(Random random, ulong seed, double killed)
    {
        var options = SmallSaw.Named("saw", seed);
        var saw = new VirtualSaw(options with { Jobs = [options.Jobs[0] with { RateCm2Min = 12 + (12 * random.NextDouble()) }], Work = options.Work with { LeastWaitS = 2, ExtraWaitS = 1.5 } });
        var gateway = new RestartedSaw();
        var gaps = new List<(DateTimeOffset, DateTimeOffset)>();
        var (sees, last, turns) = (true, SmallSaw.Start, SmallSaw.Start.AddSeconds(20 + (10 * random.NextDouble())));
        var end = SmallSaw.Start + Work;
        for (var now = SmallSaw.Start; now < end; now += Interval)
        {
            if (now >= turns)
            {
                sees = !sees || now > end.AddMinutes(-2);
                if (sees)
                    gaps.Add((last, now));
                if (sees && killed > random.NextDouble())
                    gateway.Kill(now);
                var seconds = sees ? (random.Next(4) == 0 ? 30 * random.NextDouble() : 0.2 + (4 * random.NextDouble())) : random.Next(10) == 0 ? 60 * random.NextDouble() : 2 + (6 * random.NextDouble());
                turns = now.AddSeconds(seconds);
            }

            if (!sees || !saw.TrySample(now, out var frame))
                continue;
            last = now;
            gateway.Push(frame);
        }

        saw.AdvanceTo(end);
        return (saw.TakeFinished(), gateway.Cuts, gaps, gateway.Memory.Unseen?.Counted ?? 0);
    }

    private static void Check(TrialRun run, List<string> wrong, int seed, IReadOnlyList<SawTruth> truths, List<Cut> cuts, List<(DateTimeOffset From, DateTimeOffset To)> gaps)
    {
        var of = new Dictionary<long, Cut>();
        foreach (var cut in cuts)
        {
            run.Check(cut.EndedAt >= cut.StartedAt && !(cut.CutEndedAt < cut.CutStartedAt), $"saw {seed}: ends before it begins: {Words(cut)}");
            if (cut.Outcome is not (CutOutcome.Completed or CutOutcome.UnobservedStart or CutOutcome.UnobservedEnd))
                wrong.Add(string.Create(CultureInfo.InvariantCulture, $"saw {seed}: {Words(cut)}"));
            var truth = truths.MaxBy(truth => Shared(cut, truth))!;
            if (run.Check(Shared(cut, truth) > TimeSpan.Zero, $"saw {seed}: of no cycle: {Words(cut)}") && !of.TryAdd(truth.Cycle, cut))
                wrong.Add(string.Create(CultureInfo.InvariantCulture, $"saw {seed}: the cycle of {truth.Started:mm:ss.f}: {Words(of[truth.Cycle])}, {Words(cut)}"));
        }

        foreach (var truth in truths.Where(truth => !gaps.Any(gap => truth.Started < gap.To && truth.Ended > gap.From) && truth.Ended < SmallSaw.Start + Work - TimeSpan.FromSeconds(20)))
            run.Check(of.ContainsKey(truth.Cycle), $"saw {seed}: the cycle of {truth.Started:mm:ss.f} was seen whole and is not there");
    }

    // As many cycles are stated as there were between two records; where the count of one was still due, a record or two later.
    private static int Account(List<string> untold, int seed, IReadOnlyList<SawTruth> truths, List<Cut> cuts, long unstated)
    {
        var (last, late, open) = (-1, 0, 0L);
        var words = new List<string>();
        foreach (var cut in cuts)
        {
            var truth = truths.MaxBy(truth => Shared(cut, truth))!;
            var at = (int)(truth.Cycle - truths[0].Cycle);
            open += last < 0 ? 0 : at - last - 1 - (cut.Before?.Counted ?? 0);
            late += open != 0 ? 1 : 0;
            last = at;
            words.Add(FormattableString.Invariant($"    of {truth.PartCount}, {open} open: {Words(cut)}, count {cut.PartCount}"));
        }

        if (open != unstated)
            untold.Add($"saw {seed}\n{string.Join('\n', words)}");
        return late;
    }

    private static TimeSpan Shared(Cut cut, SawTruth truth)
    {
        var from = (cut.CutStartedAt ?? cut.StartedAt) - Sampling;
        var to = (cut.CutEndedAt ?? cut.EndedAt) + Sampling;
        return (to < truth.Ended ? to : truth.Ended) - (from > truth.Started ? from : truth.Started);
    }

    private static string Words(Cut cut) => FormattableString.Invariant($"{cut.StartedAt:mm:ss.f} cut {cut.CutStartedAt:mm:ss.f} to {cut.CutEndedAt:mm:ss.f} end {cut.EndedAt:mm:ss.f} {cut.Outcome} ({string.Join("; ", cut.Notes)})");
}
