using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>Power cuts and clean stops in the middle of cuts, against a run that was not interrupted, all on real files.</summary>
public sealed class SawProcessorRestartTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    public static TheoryData<int, bool> SawsAndEnds => new() { { 0, true }, { 1, true }, { 2, true }, { 0, false }, { 1, false }, { 2, false } };

    [Theory]
    [MemberData(nameof(SawsAndEnds))]
    public async Task InterruptedAtManyFramesOfOpenCycles_TheRecordsAreThoseOfAnUninterruptedRun(int saw, bool crash)
    {
        var (machine, jobs, frames) = Recorded(saw);
        await using var whole = new RunningHistory();
        var uninterrupted = new CrashingProcessor(whole, machine, jobs, storeEachFrame: true);
        await uninterrupted.RunAsync(frames, crash: false);
        var expected = await uninterrupted.RecordsAsync();
        Assert.True(expected.Count >= 6);

        var open = OpenPositions(machine, jobs, frames);
        for (var seed = 1; seed <= 2; seed++)
        {
            await using var history = new RunningHistory();
            var interrupted = new CrashingProcessor(history, machine, jobs, storeEachFrame: true);
            await RunWithStopsAsync(interrupted, frames, open, new Random(seed), stops: 12, crash, lost: 0);
            Assert.Equal(expected, await interrupted.RecordsAsync());
            Assert.True(interrupted.Log.Count(3001) >= 10);
            Assert.Equal(0, interrupted.Log.Count(3004));
            Assert.Equal("ok", history.Ask("PRAGMA integrity_check"));
        }
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    public async Task PowerCuts_WithFramesStoredEveryTwoSeconds_LoseNoCycleAndDoubleNone(int saw)
    {
        var (machine, jobs, frames) = Recorded(saw);
        await using var whole = new RunningHistory();
        var uninterrupted = new CrashingProcessor(whole, machine, jobs, storeEachFrame: false);
        await uninterrupted.RunAsync(frames, crash: false);
        var expected = await uninterrupted.RecordsAsync();

        // Two seconds at most were not stored, and half a second passes until the next start reads again: the cycle itself is
        // known as long as neither its beginning nor its end lies in there.
        var open = Enumerable.Range(0, frames.Count).Where(i => expected.Exists(record => frames[i].Time > record.StartedAt.AddSeconds(2.5) && frames[i].Time < record.EndedAt.AddSeconds(-1))).ToList();
        for (var seed = 1; seed <= 4; seed++)
        {
            await using var history = new RunningHistory();
            var interrupted = new CrashingProcessor(history, machine, jobs, storeEachFrame: false);
            await RunWithStopsAsync(interrupted, frames, open, new Random(seed), stops: 8, crash: true, lost: 2);
            var records = await interrupted.RecordsAsync();
            Assert.Equal(expected.Select(record => record.CycleId), records.Select(record => record.CycleId));
            foreach (var (record, truth) in records.Zip(expected))
            {
                Assert.Equal(truth.Job, record.Job);
                Assert.InRange(record.Coverage ?? 0, 0, truth.Coverage ?? 1);

                // What was not seen is not known; nothing else is claimed in its place.
                if (record.Outcome == CutOutcome.UnobservedEnd)
                {
                    Assert.Matches("the end of the cut fell into a gap between frames|frames were missing, and the cut itself was not seen", record.Notes);
                    Assert.Null(record.CutTimeS);
                    continue;
                }

                Assert.Equal(truth.Outcome, record.Outcome);
                if (truth.CutTimeS is { } seconds)
                    Assert.Equal(seconds, record.CutTimeS!.Value, 2.5);
            }
        }
    }

    [Theory]
    [MemberData(nameof(SawsAndEnds))]
    public async Task InterruptedBetweenCuts_TheScoresAreThoseOfAnUninterruptedRun(int saw, bool crash)
    {
        var (machine, jobs, frames) = Recorded(saw);
        await using var whole = new RunningHistory();
        var uninterrupted = new CrashingProcessor(whole, machine, jobs, storeEachFrame: true);
        await uninterrupted.RunAsync(frames, crash: false);
        var expected = await uninterrupted.RecordsAsync();
        Assert.Contains(expected, record => record.LoadScore is not null);

        var open = OpenPositions(machine, jobs, frames).ToHashSet();
        var between = Enumerable.Range(0, frames.Count).Where(i => !open.Contains(i)).ToList();
        await using var history = new RunningHistory();
        var interrupted = new CrashingProcessor(history, machine, jobs, storeEachFrame: true);
        await RunWithStopsAsync(interrupted, frames, between, new Random(1), stops: 12, crash, lost: 0);
        var records = await interrupted.RecordsAsync();

        // What was seen of the blade in air just before the stop is gone, so that the idle load may be another by a hair.
        Assert.Equal(expected.Select(Decided), records.Select(Decided));
        foreach (var (record, truth) in records.Zip(expected))
        {
            Assert.True(Math.Abs((record.LoadScore ?? 0) - (truth.LoadScore ?? 0)) < 0.3, $"{record}\ninstead of\n{truth}");
            Assert.True(Math.Abs((record.IdleLoadKw ?? 0) - (truth.IdleLoadKw ?? 0)) < 0.02, $"{record}\ninstead of\n{truth}");
        }

        Assert.Equal(0, interrupted.Log.Count(3004));
        Assert.Equal(0, interrupted.Log.Count(3007));
    }

    private static object Decided(CycleRecord record) =>
        (record.Job, record.Outcome, record.CutStartedAt, record.CutEndedAt, record.Blade, record.BladeAreaM2, record.LoadScore is null, record.LikelyCause);

    private static async Task RunWithStopsAsync(CrashingProcessor processor, IReadOnlyList<SignalFrame> frames, List<int> open, Random random, int stops, bool crash, int lost)
    {
        var at = 0;
        foreach (var stop in Enumerable.Range(0, stops).Select(_ => open[random.Next(open.Count)]).Distinct().Order())
        {
            // A crash comes before the last frame is looked at; a clean stop after it.
            if (stop - at < 3)
                continue;
            await processor.RunAsync([.. frames.Skip(at).Take(stop - at + (crash ? 1 : 0))], crash);
            at = stop + lost;
        }

        await processor.RunAsync([.. frames.Skip(at)], crash: false);
    }

    // Numbers of frames before which a cycle is open and goes on.
    private static List<int> OpenPositions(SawMachine machine, JobBook jobs, IReadOnlyList<SignalFrame> frames)
    {
        var pipeline = new SawPipeline(machine, jobs);
        var open = new List<int>();
        for (var i = 0; i < frames.Count; i++)
        {
            if (pipeline.HasOpenEnds)
                open.Add(i);
            pipeline.Push(frames[i]);
            while (pipeline.TryTake(out _))
            {
            }
        }

        return open;
    }

    private static (SawMachine Machine, JobBook Jobs, IReadOnlyList<SignalFrame> Frames) Recorded(int saw)
    {
        var plant = Plant.Create(Start);
        var options = plant.Saws[saw].Options;
        var frames = RecordingGenerator.Frames(new VirtualSaw(options), new RecordingOptions { Cycles = 10, Interval = TimeSpan.FromMilliseconds(250) }).ToList();
        return (options.Machine.ToSawMachine(), JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book, frames);
    }
}
