using SawEdge.Core.Oee;

namespace SawEdge.Core.Tests.Oee;

public sealed class ShiftCalendarTests
{
    private static readonly IReadOnlySet<DayOfWeek> EveryDay = Enum.GetValues<DayOfWeek>().ToHashSet();

    private static ShiftCalendar ThreeShifts(string zone) => new(new CalendarPlan
    {
        Zone = TimeZoneInfo.FindSystemTimeZoneById(zone),
        Shifts =
        [
            new WeeklyShift("early", EveryDay, new TimeOnly(6, 0), new TimeOnly(14, 0), []),
            new WeeklyShift("late", EveryDay, new TimeOnly(14, 0), new TimeOnly(22, 0), []),
            new WeeklyShift("night", EveryDay, new TimeOnly(22, 0), new TimeOnly(6, 0), []),
        ],
    });

    [Theory]
    [InlineData("05:59", false)]
    [InlineData("06:14", false)] // the saws are being switched on
    [InlineData("06:15", true)]
    [InlineData("13:59", true)]
    [InlineData("14:05", true)] // one shift follows the other
    [InlineData("21:59", true)]
    [InlineData("22:00", false)]
    public void IsAtWork_FromAQuarterOfAnHourAfterTheBegin_UntilTheEnd(string time, bool expected)
    {
        var calendar = new ShiftCalendar(new CalendarPlan
        {
            Zone = TimeZoneInfo.Utc,
            Shifts = [new WeeklyShift("early", EveryDay, new TimeOnly(6, 0), new TimeOnly(14, 0), []), new WeeklyShift("late", EveryDay, new TimeOnly(14, 0), new TimeOnly(22, 0), [])],
        });

        Assert.Equal(expected, calendar.IsAtWork(DateTimeOffset.Parse($"2026-03-03T{time}:00Z", System.Globalization.CultureInfo.InvariantCulture)));
    }

    // Days on which clocks change, from the IANA time zone database: the night shift that begins the evening before lasts as long as time passes.
    [Theory]
    [InlineData("Europe/Berlin", "2026-03-28", 7)]
    [InlineData("Europe/Berlin", "2026-10-24", 9)]
    [InlineData("America/New_York", "2026-03-07", 7)]
    [InlineData("America/New_York", "2026-10-31", 9)]
    [InlineData("Australia/Lord_Howe", "2026-04-04", 8.5)]
    [InlineData("Australia/Lord_Howe", "2026-10-03", 7.5)]
    [InlineData("America/Havana", "2026-03-07", 7)] // at midnight
    [InlineData("Asia/Kathmandu", "2026-03-28", 8)] // never
    public void ShiftsOf_ANightOfAClockChange_LastsAsLongAsTimePasses(string zone, string date, double hours)
    {
        var night = ThreeShifts(zone).ShiftsOf(DateOnly.Parse(date, System.Globalization.CultureInfo.InvariantCulture)).Single(shift => shift.Name == "night");

        Assert.Equal(TimeSpan.FromHours(hours), night.Time.Duration);
    }

    [Theory]
    [InlineData("Europe/Berlin", 2026)]
    [InlineData("America/New_York", 2026)]
    [InlineData("Australia/Lord_Howe", 2026)]
    [InlineData("America/Havana", 2026)]
    [InlineData("America/Sao_Paulo", 2018)] // changed at midnight
    [InlineData("Asia/Kathmandu", 2026)]
    [InlineData("Pacific/Apia", 2011)] // left out a whole day
    public void Planned_ShiftsAroundTheClock_CoverEveryMomentOnce(string zone, int year)
    {
        var calendar = ThreeShifts(zone);
        var period = new Period(new DateTimeOffset(year, 1, 1, 0, 0, 0, TimeSpan.Zero), new DateTimeOffset(year + 1, 1, 10, 0, 0, 0, TimeSpan.Zero));
        var pieces = calendar.Planned(period);

        Assert.Equal(period.Duration, calendar.PlannedTime(period));
        for (var i = 1; i < pieces.Count; i++)
            Assert.Equal(pieces[i - 1].Time.To, pieces[i].Time.From);
    }

    // Shifts that begin and end in the hour that is skipped or comes twice keep their order and never overlap.
    [Theory]
    [InlineData("Europe/Berlin", "2026-03-29")]
    [InlineData("Europe/Berlin", "2026-10-25")]
    [InlineData("Australia/Lord_Howe", "2026-10-04")]
    public void ShiftsIn_ShiftsThatBeginInTheHourOfTheChange_NeverOverlap(string zone, string date)
    {
        var day = DateOnly.Parse(date, System.Globalization.CultureInfo.InvariantCulture);
        var shifts = Enumerable.Range(0, 24).Select(quarter => new ExtraShift("q" + quarter, day, new TimeOnly(quarter / 4, quarter % 4 * 15), new TimeOnly((quarter + 1) / 4, (quarter + 1) % 4 * 15), [])).ToArray();
        var calendar = new ShiftCalendar(new CalendarPlan { Zone = TimeZoneInfo.FindSystemTimeZoneById(zone), ExtraShifts = shifts });
        var found = calendar.ShiftsOf(day);

        for (var i = 1; i < found.Count; i++)
            Assert.Equal(found[i - 1].Time.To, found[i].Time.From);
        var zoneInfo = TimeZoneInfo.FindSystemTimeZoneById(zone);
        var expected = TimeSpan.FromHours(6) - (zoneInfo.GetUtcOffset(day.ToDateTime(new TimeOnly(12, 0))) - zoneInfo.GetUtcOffset(day.AddDays(-1).ToDateTime(new TimeOnly(12, 0))));
        Assert.Equal(expected, found.Aggregate(TimeSpan.Zero, (sum, shift) => sum + shift.Time.Duration));
    }

    [Fact]
    public void Planned_BreaksAndPlannedStops_AreTakenOutOnce()
    {
        var plan = MadeShift.Plan with
        {
            PlannedStops =
            [
                new PlannedStop(MadeShift.Between("08:50", "09:10"), "inspection"),
                new PlannedStop(MadeShift.Between("09:05", "09:20"), "crane", new HashSet<string> { "Saw 2" }),
                new PlannedStop(MadeShift.Between("13:30", "15:00"), "training"),
            ],
        };
        var calendar = new ShiftCalendar(plan);

        Assert.Equal(TimeSpan.FromMinutes(480 - 15 - 30 - 10 - 30), calendar.PlannedTime(MadeShift.Shift, "Saw 1"));
        Assert.Equal(TimeSpan.FromMinutes(480 - 15 - 30 - 10 - 5 - 30), calendar.PlannedTime(MadeShift.Shift, "Saw 2"));
        Assert.Equal(MadeShift.Between("06:00", "08:50"), calendar.Planned(MadeShift.Shift, "Saw 1")[0].Time);
    }

    [Fact]
    public void Planned_AHoliday_HasNoWeeklyShiftButTheExtraOne()
    {
        var monday = new DateOnly(2026, 3, 2);
        var plan = MadeShift.Plan with
        {
            Holidays = [new Holiday(monday, monday, "fair")],
            ExtraShifts = [new ExtraShift("rush", monday, new TimeOnly(20, 0), new TimeOnly(2, 0), [new(new TimeOnly(23, 45), new TimeOnly(0, 15))])],
        };
        var calendar = new ShiftCalendar(plan);
        var shift = Assert.Single(calendar.ShiftsOf(monday));

        Assert.Equal("rush", shift.Name);
        Assert.Equal(TimeSpan.FromHours(5.5), calendar.PlannedTime(shift.Time));
        Assert.Equal("rush", calendar.ShiftAt(MadeShift.At("1.01:00"))?.Name);
        Assert.Null(calendar.ShiftAt(MadeShift.At("10:00")));
    }

    [Fact]
    public void ShiftAt_WhereShiftsMeet_IsTheOneThatBegins()
    {
        var calendar = ThreeShifts("Europe/Berlin");

        Assert.Equal("late", calendar.ShiftAt(MadeShift.At("14:00"))?.Name);
        Assert.Equal("early", calendar.ShiftAt(MadeShift.At("14:00").AddTicks(-1))?.Name);
        Assert.Equal(new DateOnly(2026, 3, 1), calendar.ShiftAt(MadeShift.At("03:00"))?.Date);
    }

    [Fact]
    public void Problems_ShiftsThatOverlap_AreNamedOnce()
    {
        var plan = new CalendarPlan
        {
            Zone = TimeZoneInfo.Utc,
            Shifts =
            [
                new WeeklyShift("early", EveryDay, new TimeOnly(6, 0), new TimeOnly(14, 0), []),
                new WeeklyShift("night", new HashSet<DayOfWeek> { DayOfWeek.Sunday }, new TimeOnly(22, 0), new TimeOnly(6, 30), []),
            ],
        };
        var problem = Assert.Single(plan.Problems());

        Assert.Equal((CalendarPart.Shift, 0), (problem.Part, problem.Index));
        Assert.Contains("'night'", problem.Words, StringComparison.Ordinal);
        Assert.Throws<ArgumentException>(() => new ShiftCalendar(plan));
    }

    [Theory]
    [InlineData(5, 0, 6, 15, 1)] // begins before the shift
    [InlineData(13, 50, 14, 10, 1)] // ends after it
    [InlineData(9, 0, 9, 0, 1)] // takes no time
    [InlineData(13, 50, 14, 0, 0)]
    [InlineData(8, 50, 9, 5, 1)] // overlaps the other
    public void Problems_ABreak_MustLieInItsShift(int fromHour, int fromMinute, int toHour, int toMinute, int problems)
    {
        var shift = new WeeklyShift("early", EveryDay, new TimeOnly(6, 0), new TimeOnly(14, 0), [new(new TimeOnly(9, 0), new TimeOnly(9, 15)), new(new TimeOnly(fromHour, fromMinute), new TimeOnly(toHour, toMinute))]);

        Assert.Equal(problems, new CalendarPlan { Zone = TimeZoneInfo.Utc, Shifts = [shift] }.Problems().Count);
    }

    [Fact]
    public void Problems_AnExtraShiftOverAWeeklyOne_IsFoundUnlessTheDayIsAHoliday()
    {
        var saturday = new DateOnly(2026, 3, 7);
        var extra = new ExtraShift("rush", new DateOnly(2026, 3, 2), new TimeOnly(12, 0), new TimeOnly(18, 0), []);

        Assert.Equal(CalendarPart.ExtraShift, Assert.Single((MadeShift.Plan with { ExtraShifts = [extra] }).Problems()).Part);
        Assert.Empty((MadeShift.Plan with { ExtraShifts = [extra with { Date = saturday }] }).Problems());
        Assert.Empty((MadeShift.Plan with { ExtraShifts = [extra], Holidays = [new Holiday(extra.Date, extra.Date, "fair")] }).Problems());
    }

    [Fact]
    public void Problems_AHolidayThatEndsBeforeItBegins_IsNamed() =>
        Assert.Equal(CalendarPart.Holiday, Assert.Single((MadeShift.Plan with { Holidays = [new Holiday(new DateOnly(2026, 3, 2), new DateOnly(2026, 3, 1), "x")] }).Problems()).Part);

    [Fact]
    public void Period_ThatEndsBeforeItBegins_IsRefused() =>
        Assert.Throws<ArgumentException>(() => new Period(MadeShift.At("07:00"), MadeShift.At("06:00")));
}
