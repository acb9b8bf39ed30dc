using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;

namespace SawEdge.Gateway.Tests.Accounts;

public sealed class OeeServiceTests
{
    public static TheoryData<int> Seeds => [.. Enumerable.Range(1, 8)];

    // The account of the whole time at once knows nothing of blocks and of what is kept.
    [Theory]
    [MemberData(nameof(Seeds))]
    public async Task Figures_FromKeptSums_AreThoseOfTheWholeAccountAfterAnyChange(int seed)
    {
        await using var bay = await MadeBay.OfAsync(seed, handlingBetween: seed % 2 == 0);
        await AgreesAsync(bay, "at first");
        var kept = (long)bay.History.Ask("SELECT count(*) FROM account_sums")!;
        Assert.InRange(kept, 10, 2 * MadeBay.Days);
        for (var i = 0; i < 10; i++)
        {
            var what = await bay.ChangeAsync();
            await AgreesAsync(bay, $"{i}: {what}");
        }
    }

    [Fact]
    public async Task Figures_OfPastDaysThatNothingTouches_AreReadAndNotWorkedOut()
    {
        await using var bay = await MadeBay.OfAsync(3, handlingBetween: false);
        await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Day));

        // A sum that says what no account would: it is what the answer shows.
        var day = OeeBlock.In(bay.Options.Calendar!.Calendar, bay.Period)[3];
        var other = new AccountPartsOf(day).Parts;
        await bay.History.Writer.SaveAccountSumsAsync("Saw 1", await bay.History.Reader.AccountVersionAsync("Saw 1"), bay.Oee.SettingsOf(bay.Options.Saws[0]), [new(day.Time, day.Time, other)], CancellationToken.None);
        var figures = await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Day, OeeBy.Saw, ["Saw 1"]));
        Assert.Equal(4711, figures.Single(item => item.Time == day.Time).Buckets[OeeCount.Parts]);

        // Until something of that day changes.
        await bay.History.Writer.SaveStatesAsync("Saw 1", [new StateSegment(day.Time.From.AddHours(1), day.Time.From.AddHours(1.1), TimelineState.NotAvailable)], CancellationToken.None);
        figures = await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Day, OeeBy.Saw, ["Saw 1"]));
        Assert.NotEqual(4711, figures.Single(item => item.Time == day.Time).Buckets[OeeCount.Parts]);
    }

    [Fact]
    public async Task Figures_WithAnotherCalendar_DoNotShowSumsOfTheFormer()
    {
        await using var bay = await MadeBay.OfAsync(5, handlingBetween: false);
        await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Whole));
        var other = bay.Options.Calendar! with { Settings = bay.Options.Calendar.Settings with { ShortStop = TimeSpan.FromMinutes(30) } };
        var changed = new OeeService(bay.Options with { Calendar = other }, bay.History.Reader, bay.History.Writer, bay.Machine);

        await AgreesAsync(bay, changed, other, OeeEach.Day, "with another setting");
    }

    [Fact]
    public async Task Figures_OfAGroupAndTheSite_AreSumsOfTheirSaws()
    {
        await using var bay = await MadeBay.OfAsync(8, handlingBetween: false);
        var saws = await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Week));
        var group = await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Week, OeeBy.Group));
        var site = await bay.Oee.FiguresAsync(new OeeQuestion(bay.Period, OeeEach.Week, OeeBy.Site));

        Assert.Equal(["2026-W13", "2026-W14"], site.Select(item => item.Label));
        Assert.All(group, item => Assert.Equal("Bay 1", item.Subject));
        for (var i = 0; i < site.Count; i++)
        {
            Same(OeeBuckets.Total([saws[i].Buckets, saws[i + site.Count].Buckets]), site[i].Buckets, "site");
            Same(group[i].Buckets, site[i].Buckets, "group");
        }
    }

    [Fact]
    public async Task Figures_OfThePresentShift_EndWhereTheSawWasSeenLast()
    {
        await using var bay = await MadeBay.OfAsync(9, handlingBetween: false);
        var now = bay.Machine.GetUtcNow();
        var last = (await bay.History.Reader.LastStateAsync("Saw 1"))!;
        await bay.History.Writer.SaveStatesAsync("Saw 1", [new StateSegment(last.To, now.AddMinutes(-1), TimelineState.Executing)], CancellationToken.None);
        var items = await bay.Oee.FiguresAsync(new OeeQuestion(new Period(now.AddHours(-2), now.AddDays(3)), OeeEach.Whole, OeeBy.Saw, ["Saw 1"]));

        var item = Assert.Single(items);
        Assert.Equal(now, item.Time.To);
        Assert.Equal(bay.Options.Calendar!.Calendar.PlannedTime(new Period(now.AddHours(-2), last.To > now ? now : now.AddMinutes(-1)), "Saw 1"), item.Buckets.PlannedBusyTime);
        Assert.Empty(await bay.Oee.FiguresAsync(new OeeQuestion(new Period(now.AddDays(1), now.AddDays(2)), OeeEach.Shift)));
    }

    private static async Task AgreesAsync(MadeBay bay, string when)
    {
        foreach (var each in Enum.GetValues<OeeEach>())
            await AgreesAsync(bay, bay.Oee, bay.Options.Calendar!, each, when);
    }

    private static async Task AgreesAsync(MadeBay bay, OeeService oee, SawEdge.Gateway.Configuration.CalendarOptions calendar, OeeEach each, string when)
    {
        var items = await oee.FiguresAsync(new OeeQuestion(bay.Period, each));
        foreach (var saw in bay.Options.Saws)
        {
            var around = new Period(bay.Period.From.AddDays(-2), bay.Period.To.AddDays(2));
            var account = await bay.History.Reader.AccountAsync(saw.Name, calendar, around, saw.HasHandlingBetweenCycles);
            var own = items.Where(item => item.Subject == saw.Name).ToList();
            Assert.NotEmpty(own);
            foreach (var item in own)
                Same(account.Buckets(item.Time), item.Buckets, $"{when}, {saw.Name}, {each} {item.Label}");
            if (each is OeeEach.Hour or OeeEach.Whole)
                Same(account.Buckets(bay.Period), OeeBuckets.Total(own.Select(item => item.Buckets)), when);
            if (each is not (OeeEach.Hour or OeeEach.Whole))
                continue;
            var ended = (await bay.History.Reader.CyclesInAsync(saw.Name, bay.Period)).Where(cut => cut.EndedAt > bay.Period.From && cut.EndedAt <= bay.Period.To).ToList();
            var check = CounterCheck.Of(ended);
            Assert.Equal((check.Difference, check.Parts, check.Counted), (own.Sum(item => item.Counter?.Difference ?? 0), own.Sum(item => item.Counter?.Parts ?? 0), own.Sum(item => item.Counter?.Counted ?? 0)));
            Assert.Equal(check.Steps.Count(step => step.Kind == CounterEvent.Reset), own.Sum(item => item.Counter?.Resets ?? 0));
        }
    }

    private static void Same(OeeBuckets one, OeeBuckets other, string what)
    {
        Assert.True(one.PlannedBusyTime == other.PlannedBusyTime, what);
        Assert.All(Enum.GetValues<OeeBucket>(), bucket => Assert.True(one[bucket] == other[bucket], $"{what}: {bucket} is {other[bucket]} instead of {one[bucket]}"));
        Assert.All(Enum.GetValues<OeeBeside>(), beside => Assert.True(one[beside] == other[beside], $"{what}: {beside}"));
        Assert.All(Enum.GetValues<OeeCount>(), count => Assert.True(one[count] == other[count], $"{what}: {count}"));
        Assert.Equal(one.Stops.OrderBy(stop => stop.Reason, StringComparer.Ordinal).ThenBy(stop => stop.Class), other.Stops.OrderBy(stop => stop.Reason, StringComparer.Ordinal).ThenBy(stop => stop.Class));
    }

    /// <summary>Parts that nobody made.</summary>
    private sealed class AccountPartsOf(OeeBlock day)
    {
        public IReadOnlyList<SawEdge.Gateway.History.AccountPart> Parts { get; } =
            [.. day.Shifts.Select((_, i) => new SawEdge.Gateway.History.AccountPart(OeeBuckets.Of(TimeSpan.Zero, new long[9], new long[6], [i == 0 ? 4711 : 0, 0, 0, 0, 0, 0, 0], []), CounterSum.None))];
    }
}
