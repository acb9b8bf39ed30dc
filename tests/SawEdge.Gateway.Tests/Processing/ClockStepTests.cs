using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Tests.Acquisition;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>
/// The wall clock is set under a saw's loop at random moments, forth and back, while the monotonic clock goes on; against a run whose clock was left
/// alone. Frames get their time as those of a Modbus saw do; the history is a real file.
/// </summary>
public sealed class ClockStepTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    public async Task ClockIsSetAtRandom_CyclesAreThoseOfAClockThatWasLeftAlone(int seed)
    {
        await using var alone = new RunningHistory();
        var expected = await RunAsync(alone, (_, _) => TimeSpan.Zero);
        Assert.True(expected.Count >= 9);

        var random = new Random(seed);
        double[] steps = [3600, -3600, 1.5, -1, -1, 60, -7200, 0.4, -0.4, 86_000, -86_000];
        var set = 0;
        await using var history = new RunningHistory();
        var records = await RunAsync(history, (_, _) =>
        {
            if (random.Next(400) > 0)
                return TimeSpan.Zero;
            set++;
            return TimeSpan.FromSeconds(steps[random.Next(steps.Length)]);
        });
        Assert.True(set > 3);
        AreTheSame(expected, records);
        Assert.Contains(records, record => record.Notes.Contains("the gateway's clock was set", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(-2)]
    [InlineData(-1)]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(2)]
    public async Task ClockIsSetWhereCyclesBegin_FramesThatWereOnTheirWayHaveTheClockOfThoseAfterThem(int framesAfter)
    {
        await using var alone = new RunningHistory();
        var expected = await RunAsync(alone, (_, _) => TimeSpan.Zero);
        var starts = Starts().Select(start => start + framesAfter).ToList();
        double[] steps = [2, 3600, -1.5, -3600, 1.2, 86_000, -1, 60, -86_000, 5];
        await using var history = new RunningHistory();
        var records = await RunAsync(history, (i, _) => starts.IndexOf(i) is var cycle and >= 0 ? TimeSpan.FromSeconds(steps[cycle % steps.Length]) : TimeSpan.Zero);
        AreTheSame(expected, records);
    }

    [Theory]
    [InlineData(1, 3)]
    [InlineData(2, 0)]
    [InlineData(3, 12)]
    [InlineData(4, -2)]
    public async Task ClockIsSetWhileTheGatewayIsDown_CyclesAreThoseOfAClockThatWasLeftAlone(int seed, int framesAfterStart)
    {
        await using var alone = new RunningHistory();
        var expected = await RunAsync(alone, (_, _) => TimeSpan.Zero);
        var random = new Random(seed);
        double[] steps = [3600, -3600, 1.5, -1.2, 3_024_000, -3_024_000, 86_400, -86_400];

        // In every second cycle, as far into it as is said, and once more between two.
        var starts = Starts();
        var down = starts.Where((_, cycle) => cycle % 2 == 1).Select(start => start + framesAfterStart).Append(starts[4] - 8).ToHashSet();
        await using var history = new RunningHistory();
        var records = await RunAsync(history, (i, _) => down.Contains(i) ? TimeSpan.FromSeconds(steps[random.Next(steps.Length)]) : TimeSpan.Zero, restarts: down.Contains);
        AreTheSame(expected, records);
        Assert.Equal((long)records.Count, history.Ask("SELECT count(*) FROM cycles"));
    }

    [Fact]
    public async Task ClockIsSlewedBy500Ppm_CyclesAreTheSame_AndNothingIsSaid()
    {
        await using var alone = new RunningHistory();
        var expected = await RunAsync(alone, (_, _) => TimeSpan.Zero);
        await using var history = new RunningHistory();
        var records = await RunAsync(history, (_, passed) => passed * 0.0005);
        AreTheSame(expected, records);
        Assert.DoesNotContain(records, record => record.Notes.Contains("clock", StringComparison.Ordinal));
    }

    [Fact]
    public async Task ClockIsSetBackSoThatACycleBeginsInTheSameMillisecond_BothAreKept()
    {
        // Twice the same saw by the same clock: each cycle of the second time has the start of one of the first.
        await using var history = new RunningHistory();
        var first = await RunAsync(history, (_, _) => TimeSpan.Zero);
        var both = await RunAsync(history, (_, _) => TimeSpan.Zero, ofAnotherSaw: true);
        Assert.Equal(2 * first.Count, both.Count);
        Assert.Equal(both.Count, both.Select(record => record.CycleId).Distinct().Count());
        Assert.Equal(both.Count, both.Select(record => record.StartedAt).Distinct().Count());
        Assert.All(both, record => Assert.Equal(CutRecorder.IdOf(record.Saw, record.StartedAt), record.CycleId));
        Assert.Equal("ok", history.Ask("PRAGMA integrity_check"));
    }

    private static void AreTheSame(List<CycleRecord> expected, List<CycleRecord> records)
    {
        var words = string.Join('\n', records.Select(record => $"{record.StartedAt:HH:mm:ss.fff} {record.Outcome} {record.PartCount} {record.CutTimeS} {record.Notes}"));
        Assert.True(expected.Count == records.Count, words);
        Assert.Equal(records.Count, records.Select(record => record.CycleId).Distinct().Count());
        foreach (var (truth, record) in expected.Zip(records))
        {
            Assert.Equal((truth.Outcome, truth.PartCount, truth.Job), (record.Outcome, record.PartCount, record.Job));
            Assert.Equal(truth.CutTimeS ?? 0, record.CutTimeS ?? 0, 0.002);
            Assert.Equal(truth.CycleTimeS ?? 0, record.CycleTimeS ?? 0, 0.8);
        }
    }

    // The frames with which the controller's cycles begin.
    private static List<int> Starts()
    {
        var frames = Frames();
        return [.. Enumerable.Range(1, frames.Count - 1).Where(i => frames[i].Flag(Signal.CycleActive) == true && frames[i - 1].Flag(Signal.CycleActive) == false)];
    }

    private static List<SignalFrame> Frames() =>
        [.. RecordingGenerator.Frames(new VirtualSaw(Plant.Create(Start, withFaults: false).Saws[0].Options), new RecordingOptions { Cycles = 10, Interval = TimeSpan.FromMilliseconds(250) })];

    // In the order in which they were made, whatever their clock said.
    private static async Task<List<CycleRecord>> RunAsync(RunningHistory history, Func<int, TimeSpan, TimeSpan> step, bool ofAnotherSaw = false, Func<int, bool>? restarts = null)
    {
        var plant = Plant.Create(Start, withFaults: false);
        var machine = plant.Saws[0].Options.Machine.ToSawMachine();
        var frames = Frames();
        var wall = new TwoClocks { Wall = Start };
        var log = new CollectedLog();
        if (ofAnotherSaw)
            history.Ask("DELETE FROM saw_state");
        var made = new List<CycleRecord>();
        using var taken = new SemaphoreSlim(0);
        var (inbox, running) = Begin();
        for (var i = 0; i < frames.Count; i++)
        {
            var passed = i == 0 ? TimeSpan.Zero : frames[i].Time - frames[i - 1].Time;
            wall.Pass(passed);
            wall.Wall += step(i, passed);
            if (restarts?.Invoke(i) == true)
            {
                inbox.Complete();
                await running;
                (inbox, running) = Begin();
            }

            var frame = frames[i];
            frame.Time = inbox.Clock!.Now;
            inbox.Offer(frame);
            await taken.WaitAsync();
        }

        inbox.Complete();
        await running;
        if (!ofAnotherSaw)
            return made;
        var all = new List<CycleRecord>();
        await foreach (var record in history.Reader.CyclesAsync(CycleFilter.All))
            all.Add(record);
        return all;

        (SawInbox Inbox, Task Running) Begin()
        {
            var opened = new SawInbox(machine.Name) { Clock = new FrameClock(new SteadyClock(wall, log.For<SteadyClock>()), "the same boot") };
            var processor = new SawProcessor(
                opened,
                new SawPipeline(machine, JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book),
                new SawSetup(machine, null, new LoadSettings(), MaterialCatalogue.BuiltIn),
                history.Writer,
                wall,
                log.For<SawProcessor>(),
                onFinished: cut => made.Add(cut.Record),
                onFrame: (string _, in SignalFrame _) => taken.Release());
            return (opened, processor.RunAsync(history.Reader, CancellationToken.None));
        }
    }
}
