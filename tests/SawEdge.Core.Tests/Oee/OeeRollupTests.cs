using SawEdge.Core.Oee;

namespace SawEdge.Core.Tests.Oee;

public sealed class OeeRollupTests
{
    [Fact]
    public void Spans_ADayOfTheClockChange_HasTwentyFiveHours()
    {
        var day = new Period(new DateTimeOffset(2026, 10, 24, 22, 0, 0, TimeSpan.Zero), new DateTimeOffset(2026, 10, 25, 23, 0, 0, TimeSpan.Zero));
        var hours = OeeRollup.Spans(MadeShift.Calendar, day, OeeGrain.Hour);

        Assert.Equal(25, hours.Count);
        Assert.Equal(2, hours.Count(hour => hour.Name == "2026-10-25 02:00"));
        Assert.All(hours, hour => Assert.Equal(TimeSpan.FromHours(1), hour.Time.Duration));
    }

    // ISO 8601: the week belongs to the year in which its Thursday lies; 2027-01-01 is a Friday.
    [Theory]
    [InlineData(2026, 3, 2, "2026-W10")]
    [InlineData(2027, 1, 1, "2026-W53")]
    [InlineData(2027, 1, 4, "2027-W01")]
    public void WeekOf_ADate_IsTheIsoWeek(int year, int month, int day, string week) => Assert.Equal(week, OeeRollup.WeekOf(new DateOnly(year, month, day)));

    [Fact]
    public void Spans_ANightShift_BelongsToTheEveningOnWhichItBegins()
    {
        var plan = MadeShift.Plan with { Shifts = [.. MadeShift.Plan.Shifts, new WeeklyShift("night", MadeShift.WorkDays, new TimeOnly(22, 0), new TimeOnly(6, 0), [])] };
        var calendar = new ShiftCalendar(plan);
        var days = OeeRollup.Spans(calendar, new Period(MadeShift.At("06:00"), MadeShift.At("2.00:00")), OeeGrain.Day);

        Assert.Equal(["2026-03-02", "2026-03-03"], days.Select(day => day.Name));
        Assert.Equal(MadeShift.At("1.06:00"), days[0].Time.To);
        Assert.Equal(TimeSpan.FromMinutes(435 + 480), calendar.PlannedTime(days[0].Time));
    }

    [Fact]
    public void Spans_AWeekend_IsPartOfTheShiftBefore()
    {
        var period = new Period(MadeShift.At("06:00"), MadeShift.At("14.00:00"));
        var weeks = OeeRollup.Spans(MadeShift.Calendar, period, OeeGrain.Week);

        Assert.Equal(["2026-W10", "2026-W11"], weeks.Select(week => week.Name));
        Assert.Equal(10, OeeRollup.Spans(MadeShift.Calendar, period, OeeGrain.Shift).Count);
        Assert.All(weeks, week => Assert.Equal(TimeSpan.FromMinutes(5 * 435), MadeShift.Calendar.PlannedTime(week.Time)));
    }

    [Fact]
    public void Spans_ATimeWithoutShifts_AreNone() =>
        Assert.Empty(OeeRollup.Spans(MadeShift.Calendar, MadeShift.Between("15:00", "20:00"), OeeGrain.Shift));
}
