using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>What a saw did, as the history holds it after clean stops and power cuts.</summary>
public sealed class SawStatesTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Run_WithStopsInBetween_StoresATimelineWithoutOverlap(bool crash)
    {
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, new SawMachine { Name = "Saw 1" }, JobBook.Empty, storeEachFrame: false);
        await processor.RunAsync(Frames(0, 300), crash);
        await processor.RunAsync(Frames(302, 600), crash: false);
        await processor.RunAsync(Frames(900, 1200), crash: false);
        var stored = await history.Reader.StatesAsync("Saw 1", new Period(Start, Start.AddHours(1)));

        for (var i = 1; i < stored.Count; i++)
            Assert.Equal(stored[i - 1].To, stored[i].From);
        var line = StateTimeline.Of(new Period(Start, Start.AddSeconds(1200)), stored);

        // The frame of 599.9 s is the last before the gateway was away, that of 900 s the first after it.
        Assert.InRange(line.TimeIn(TimelineState.Unknown).TotalSeconds, 300.1, crash ? 300.3 + 72 : 300.3);
        Assert.Equal(TimelineState.Executing, line.At(Start.AddSeconds(130)).State);
        Assert.Equal(TimelineState.NotExecuting, line.At(Start.AddSeconds(50)).State);
        Assert.Equal("A-1", line.At(Start.AddSeconds(1150)).Job);
        Assert.Equal(TimelineState.Unknown, line.At(Start.AddSeconds(750)).State);
    }

    // Virtual saws of the demo: what a saw of which only head and load are read accounts for is near what its cycle bit shows.
    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(2)]
    public async Task Account_OfAVirtualSaw_IsMuchTheSameWithAndWithoutACycleBit(int saw)
    {
        var known = await AccountAsync(saw, []);
        var bare = await AccountAsync(saw, [Signal.CycleActive, Signal.Cutting, Signal.BladeRunning]);

        Assert.InRange(known[OeeCount.Parts], 9, 10);
        Assert.Equal(known[OeeCount.Parts], bare[OeeCount.Parts]);
        Assert.All([known, bare], buckets => Assert.Equal((buckets.PlannedBusyTime, TimeSpan.Zero), (buckets.Sum, buckets[OeeBucket.Unknown])));

        // Which part of a pause between cycles was handling is only estimated from the standard: that moves time between
        // availability and effectiveness, and leaves OEE as it is but for the cycle that is still open.
        Assert.Equal(known.Figures.Oee, bare.Figures.Oee, 0.02);
        Assert.Equal(known.Figures.Availability, bare.Figures.Availability, 0.08);
        Assert.InRange(known.Figures.Effectiveness, 0.8, 1);
        Assert.InRange(bare.Figures.Effectiveness, 0.8, 1);
    }

    private static async Task<OeeBuckets> AccountAsync(int saw, Signal[] without)
    {
        var plant = Plant.Create(Start);
        var options = plant.Saws[saw].Options;
        var machine = options.Machine.ToSawMachine();
        var frames = RecordingGenerator.Frames(new VirtualSaw(options), new RecordingOptions { Cycles = 12, Interval = TimeSpan.FromMilliseconds(250) }).Select(frame =>
        {
            foreach (var signal in without)
                frame.Mark(signal, SignalQuality.NotRead);
            return frame;
        }).ToList();
        await using var history = new RunningHistory();
        await new CrashingProcessor(history, machine, JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book, storeEachFrame: false).RunAsync(frames, crash: false);
        var calendar = new CalendarOptions(
            new ShiftCalendar(new CalendarPlan { Zone = TimeZoneInfo.Utc, Shifts = [new WeeklyShift("all day", Enum.GetValues<DayOfWeek>().ToHashSet(), TimeOnly.MinValue, TimeOnly.MinValue, [])] }), new OeeSettings());
        var period = new Period(frames[0].Time, frames[^1].Time);
        return (await history.Reader.AccountAsync(machine.Name, calendar, period, without.Length > 0)).Buckets(period);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Run_WithAScrapCounter_StoresEachPartOnceOverAStop(bool crash)
    {
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, new SawMachine { Name = "Saw 1" }, JobBook.Empty, storeEachFrame: false);
        await processor.RunAsync(Counting(0, 100, 7), crash);

        // Two were counted while the gateway stood; then the counter was set back and counted one.
        await processor.RunAsync([.. Counting(200, 300, 9), .. Counting(300, 400, 1)], crash: false);
        var scrap = await history.Reader.ScrapAsync("Saw 1", new Period(Start, Start.AddHours(1)));

        Assert.Equal([(200.0, 2), (300.0, 1)], scrap.Select(stored => ((stored.Entry.At - Start).TotalSeconds, stored.Entry.Quantity)));
        Assert.All(scrap, stored => Assert.Equal(("controller", "A-1", (string?)null), (stored.Entry.Who, stored.Entry.Job, stored.Entry.CycleId)));
        Assert.Equal(1, await history.Reader.ScrapCountAsync("Saw 1"));
    }

    private static List<SignalFrame> Counting(int from, int to, int count) => Frames(from, to).ConvertAll(frame =>
    {
        frame.Set(Signal.ScrapCount, count);
        return frame;
    });

    // 100 s of pause and 100 s of cycle in turn.
    private static List<SignalFrame> Frames(int from, int to)
    {
        var frames = new List<SignalFrame>();
        for (var tenth = from * 10; tenth < to * 10; tenth++)
        {
            var frame = new SignalFrame(Start.AddMilliseconds(tenth * 100));
            frame.Set(Signal.CycleActive, tenth / 1000 % 2);
            frame.Set(Signal.MotorLoad, 1);
            frame.Set(Signal.Job, "A-1");
            frames.Add(frame);
        }

        return frames;
    }
}
