using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

public sealed class StateHistoryTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Save_ASegmentThatGrows_IsOneRow()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveStatesAsync("Saw 1", [Segment(0, 60, TimelineState.Executing)], CancellationToken.None);
        await history.Writer.SaveStatesAsync("Saw 1", [Segment(0, 90, TimelineState.Executing), Segment(90, 100, TimelineState.OutOfService, "fault 17")], CancellationToken.None);

        Assert.Equal([Segment(0, 90, TimelineState.Executing), Segment(90, 100, TimelineState.OutOfService, "fault 17")], await history.Reader.StatesAsync("Saw 1", Between(0, 1000)));
        Assert.Equal(Segment(90, 100, TimelineState.OutOfService, "fault 17"), await history.Reader.LastStateAsync("Saw 1"));
        Assert.Null(await history.Reader.LastStateAsync("Saw 2"));
    }

    [Fact]
    public async Task States_OfAPeriod_AreThoseThatTouchIt()
    {
        await using var history = new RunningHistory();
        var all = Enumerable.Range(0, 20).Select(i => Segment(i * 10, (i * 10) + 10, i % 2 == 0 ? TimelineState.Executing : TimelineState.NotExecuting)).ToArray();
        await history.Writer.SaveStatesAsync("Saw 1", all, CancellationToken.None);

        Assert.Equal(all[3..6], await history.Reader.StatesAsync("Saw 1", Between(35, 51)));
        Assert.Equal(all[3..5], await history.Reader.StatesAsync("Saw 1", Between(30, 50)));
        Assert.Equal(all[..1], await history.Reader.StatesAsync("Saw 1", Between(-50, 1)));
        Assert.Empty(await history.Reader.StatesAsync("Saw 1", Between(500, 600)));
        Assert.Empty(await history.Reader.StatesAsync("Saw 2", Between(0, 600)));
    }

    [Fact]
    public async Task Save_TimesBetweenMilliseconds_GoOnMeeting()
    {
        await using var history = new RunningHistory();
        await history.Writer.SaveStatesAsync("Saw 1", [Segment(0, 1.00055, TimelineState.Executing), Segment(1.00055, 2.0004, TimelineState.NotExecuting), Segment(2.0004, 2.00041, TimelineState.Executing)], CancellationToken.None);
        var stored = await history.Reader.StatesAsync("Saw 1", Between(0, 10));

        Assert.Equal(2, stored.Count);
        Assert.Equal(stored[0].To, stored[1].From);
        Assert.Equal(Begin.AddMilliseconds(1001), stored[0].To);
    }

    [Fact]
    public async Task Open_AHistoryWithoutStates_GetsThem()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycle(0, 100));
        using var folder = new TempFolder();
        history.CopyAsVersion(3, folder.Path);
        await using var next = new RunningHistory(folder.Path);

        Assert.Empty(await next.Reader.StatesAsync("Saw 1", Between(0, 1000)));
        Assert.Single(await next.Reader.CyclesInAsync("Saw 1", Between(50, 60)));
    }

    [Fact]
    public async Task Account_OfAShift_IsMadeOfStatesAndCycles()
    {
        await using var history = new RunningHistory();
        var calendar = new Gateway.Configuration.CalendarOptions(
            new ShiftCalendar(new CalendarPlan { Zone = TimeZoneInfo.Utc, Shifts = [new WeeklyShift("early", new HashSet<DayOfWeek> { DayOfWeek.Monday }, new TimeOnly(5, 0), new TimeOnly(6, 0), [])] }), new OeeSettings());
        await history.Writer.SaveStatesAsync("Saw 1", [Segment(-600, 1500, TimelineState.Executing), Segment(1500, 2400, TimelineState.NotExecuting), Segment(2400, 3000, TimelineState.Executing)], CancellationToken.None);
        await history.AppendAsync(Cycle(-600, 600));
        await history.AppendAsync(Cycle(600, 1500));
        var shift = Between(0, 3600);
        var account = await history.Reader.AccountAsync("Saw 1", calendar, Between(100, 200), handlingBetweenCycles: false);
        var buckets = account.Buckets(shift);

        // Half of the first cut's 1,000 s of standard, 900 s of the second, which has none, and the open one.
        Assert.Equal(TimeSpan.FromSeconds(500 + 1000 + 600), buckets.PlannedRunTime);
        Assert.Equal(TimeSpan.FromSeconds(600 + 900 + 600), buckets.ActualProductionTime);
        Assert.Equal(TimeSpan.FromSeconds(600), buckets[OeeBucket.Unknown]);
        Assert.Equal(buckets.PlannedBusyTime, buckets.Sum);
        Assert.Equal(2, buckets[OeeCount.Parts]);
    }

    private static Period Between(double from, double to) => new(Begin.AddSeconds(from), Begin.AddSeconds(to));

    private static StateSegment Segment(double from, double to, TimelineState state, string reason = "") => new(Begin.AddSeconds(from), Begin.AddSeconds(to), state, reason, "A-1");

    private static CycleRecord Cycle(double from, double to) => new()
    {
        CycleId = $"Saw 1-{from}",
        Saw = "Saw 1",
        StartedAt = Begin.AddSeconds(from),
        EndedAt = Begin.AddSeconds(to),
        Outcome = CutOutcome.Completed,
        StandardCycleTimeS = 1000,
        Frames = 1,
    };
}
