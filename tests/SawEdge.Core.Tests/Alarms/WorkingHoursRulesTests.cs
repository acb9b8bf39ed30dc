using System.Globalization;
using SawEdge.Core.Alarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>The clock of Europe/Berlin in 2026: forward on 29 March at 02:00, back on 25 October at 03:00 (IANA time zone database).</summary>
public sealed class WorkingHoursRulesTests
{
    private static readonly TimeZoneInfo Berlin = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");
    private static readonly DayOfWeek[] Weekdays = [DayOfWeek.Monday, DayOfWeek.Tuesday, DayOfWeek.Wednesday, DayOfWeek.Thursday, DayOfWeek.Friday];

    [Theory]
    [InlineData("2026-03-02T05:00Z", "06:00", "14:00", true)] // Monday 06:00 there
    [InlineData("2026-03-02T04:59Z", "06:00", "14:00", false)]
    [InlineData("2026-03-02T12:59Z", "06:00", "14:00", true)]
    [InlineData("2026-03-02T13:00Z", "06:00", "14:00", false)]
    [InlineData("2026-03-07T08:00Z", "06:00", "14:00", false)] // Saturday
    [InlineData("2026-07-06T04:00Z", "06:00", "14:00", true)] // summer time: two hours ahead
    [InlineData("2026-03-02T21:30Z", "22:00", "06:00", true)] // Monday 22:30
    [InlineData("2026-03-03T04:59Z", "22:00", "06:00", true)] // Tuesday 05:59, Monday's span
    [InlineData("2026-03-03T05:00Z", "22:00", "06:00", false)]
    [InlineData("2026-03-07T03:00Z", "22:00", "06:00", true)] // Saturday 04:00, Friday's span
    [InlineData("2026-03-07T22:00Z", "22:00", "06:00", false)] // Saturday 23:00 begins none
    [InlineData("2026-03-02T03:00Z", "22:00", "06:00", false)] // Monday 04:00: Sunday begins none
    [InlineData("2026-03-02T22:59Z", "14:00", "00:00", true)] // Monday 23:59
    [InlineData("2026-03-02T23:00Z", "14:00", "00:00", false)] // Tuesday 00:00
    [InlineData("2026-03-06T22:30Z", "00:00", "00:00", true)] // Friday, the whole day
    [InlineData("2026-03-06T23:00Z", "00:00", "00:00", false)] // Saturday 00:00
    public void Contains_AMoment_IsJudgedByTheClockOfTheZone(string at, string from, string to, bool expected) =>
        Assert.Equal(expected, Hours(Weekdays, from, to).Contains(Time(at)));

    [Theory]
    [InlineData("2026-03-29T00:30Z", true)] // 01:30 there
    [InlineData("2026-03-29T01:30Z", false)] // 03:30: 02:00 to 03:00 never comes
    [InlineData("2026-10-25T00:30Z", true)] // 02:30, the first time
    [InlineData("2026-10-25T01:30Z", true)] // 02:30, the second time
    [InlineData("2026-10-25T02:00Z", false)] // 03:00
    public void Contains_OnTheDayTheClockChanges_GoesByTheClock(string at, bool expected) =>
        Assert.Equal(expected, Hours([DayOfWeek.Sunday], "01:00", "03:00").Contains(Time(at)));

    [Fact]
    public void Contains_NoHours_IsAlways()
    {
        Assert.True(((WorkingHours?)null).Contains(Time("2026-03-02T05:00Z")));
        Assert.False(new WorkingHours(Berlin, []).Contains(Time("2026-03-02T05:00Z")));
    }

    private static WorkingHours Hours(DayOfWeek[] days, string from, string to) =>
        new(Berlin, [new WorkingSpan(days.ToHashSet(), TimeOnly.Parse(from, CultureInfo.InvariantCulture), TimeOnly.Parse(to, CultureInfo.InvariantCulture))]);

    private static DateTimeOffset Time(string text) => DateTimeOffset.Parse(text, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal);
}
