using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.Simulator.Saws;

namespace SawEdge.Torture.Trials;

/// <summary>
/// Frames are missing at random, as kills and bad lines leave them, before the detector alone: many thousand cycles in the time in which a process is
/// killed a few times, so that the rare meeting of a gap and a turn of the saw is met too. Virtual time, no process.
/// </summary>
internal sealed class GapsTrial : ITrial
{
    // Two cycles with nothing seen between them that tells one from the other: it is rare, and has to stay so.
    private const double Tolerated = 0.001;

    private static readonly TimeSpan Interval = TimeSpan.FromMilliseconds(200);
    private static readonly TimeSpan Work = TimeSpan.FromMinutes(10);
    private static readonly TimeSpan Sampling = TimeSpan.FromSeconds(0.5);

    /// <inheritdoc/>
    public string Name => "gaps";

    /// <inheritdoc/>
    public string Describes => "frames are missing at random, seconds to a minute at a time, more often than they are there; the detector alone, in virtual time";

    /// <inheritdoc/>
    public Task RunAsync(TrialRun run, CancellationToken cancellation)
    {
        var (cycles, records, gaps, wrong) = (0, 0, 0, new List<string>());
        for (var saw = 0; saw < run.Count(shortForm: 60, longForm: 3000) && !run.IsTimeUp && run.Failures.Count < 20 && wrong.Count < 100; saw++)
        {
            cancellation.ThrowIfCancellationRequested();
            var seed = run.Random.Next(1, int.MaxValue);
            var (truths, cuts, missing) = Play(new Random(seed), (ulong)seed);
            Check(run, wrong, seed, truths, cuts, missing);
            (cycles, records, gaps) = (cycles + truths.Count, records + cuts.Count, gaps + missing.Count);
        }

        run.Check(wrong.Count <= 1 + (cycles * Tolerated), $"of {cycles} cycles are recorded twice or called unfinished: {string.Join(" AND ", wrong)}");
        run.Figure("cycles", $"{cycles}");
        run.Figure("gaps", $"{gaps}");
        run.Figure("records, none of a cycle that was not", $"{records}");
        run.Figure("of a cycle that has one already, or of a finished cut called unfinished", $"{wrong.Count}");
        return Task.CompletedTask;
    }

    private static (IReadOnlyList<SawTruth> Truths, List<Cut> Cuts, List<(DateTimeOffset From, DateTimeOffset To)> Gaps) Play(Random random, ulong seed)
    {
        var options = SmallSaw.Named("saw", seed);
        var saw = new VirtualSaw(options with { Jobs = [options.Jobs[0] with { RateCm2Min = 12 + (12 * random.NextDouble()) }], Work = options.Work with { LeastWaitS = 2, ExtraWaitS = 1.5 } });
        var detector = new CycleDetector();
        var (cuts, gaps) = (new List<Cut>(), new List<(DateTimeOffset, DateTimeOffset)>());
        var (sees, last, turns) = (true, SmallSaw.Start, SmallSaw.Start.AddSeconds(20 + (10 * random.NextDouble())));
        var end = SmallSaw.Start + Work;
        for (var now = SmallSaw.Start; now < end; now += Interval)
        {
            if (now >= turns)
            {
                sees = !sees || now > end.AddMinutes(-1);
                if (sees)
                    gaps.Add((last, now));
                var seconds = sees ? (random.Next(4) == 0 ? 30 * random.NextDouble() : 0.4 + (4 * random.NextDouble())) : random.Next(10) == 0 ? 60 * random.NextDouble() : 2 + (6 * random.NextDouble());
                turns = now.AddSeconds(seconds);
            }

            if (!sees || !saw.TrySample(now, out var frame))
                continue;
            last = now;
            detector.Push(frame);
            while (cuts.Count < 1000 && detector.TryTake(out var cut))
                cuts.Add(cut);
        }

        saw.AdvanceTo(end);
        return (saw.TakeFinished(), cuts, gaps);
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

    private static TimeSpan Shared(Cut cut, SawTruth truth)
    {
        var from = (cut.CutStartedAt ?? cut.StartedAt) - Sampling;
        var to = (cut.CutEndedAt ?? cut.EndedAt) + Sampling;
        return (to < truth.Ended ? to : truth.Ended) - (from > truth.Started ? from : truth.Started);
    }

    private static string Words(Cut cut) => FormattableString.Invariant($"{cut.StartedAt:mm:ss.f} cut {cut.CutStartedAt:mm:ss.f} to {cut.CutEndedAt:mm:ss.f} end {cut.EndedAt:mm:ss.f} {cut.Outcome} ({string.Join("; ", cut.Notes)})");
}
