using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Commands.Reports;

namespace SawEdge.Gateway.Tests.Commands.Reports;

public sealed class MomentTextTests
{
    private static readonly DateTimeOffset Now = new(2026, 3, 9, 12, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData("now", "2026-03-09T12:00:00Z")]
    [InlineData("2026-03-02T13:30:15.5Z", "2026-03-02T13:30:15.5Z")]
    [InlineData("2026-03-02T13:30:00-05:00", "2026-03-02T18:30:00Z")]
    [InlineData("2026-03-02 14:30", "2026-03-02T13:30:00Z")]
    [InlineData(" 2026-03-02 14:30:05 ", "2026-03-02T13:30:05Z")]
    [InlineData("2026-03-02T14:30", "2026-03-02T13:30:00Z")]
    [InlineData("2026-07-02 14:30", "2026-07-02T12:30:00Z")]
    [InlineData("20 min ago", "2026-03-09T11:40:00Z")]
    [InlineData("20 minutes ago", "2026-03-09T11:40:00Z")]
    [InlineData("1-1/2 hours ago", "2026-03-09T10:30:00Z")]
    [InlineData("2h ago", "2026-03-09T10:00:00Z")]
    [InlineData("90 seconds AGO", "2026-03-09T11:58:30Z")]
    [InlineData("3 days ago", "2026-03-06T12:00:00Z")]
    [InlineData("7 days ago", "2026-03-02T12:00:00Z")]
    [InlineData("2 weeks ago", "2026-02-23T12:00:00Z")]
    [InlineData("1w ago", "2026-03-02T12:00:00Z")]
    [InlineData("2026-03-02", "2026-03-01T23:00:00Z")]
    [InlineData("2026-07-02", "2026-07-01T22:00:00Z")]
    [InlineData("today", "2026-03-08T23:00:00Z")]
    [InlineData(" Yesterday ", "2026-03-07T23:00:00Z")]
    [InlineData("this week", "2026-03-08T23:00:00Z")]
    [InlineData("LAST  WEEK", "2026-03-01T23:00:00Z")]
    [InlineData("this month", "2026-02-28T23:00:00Z")]
    [InlineData("last month", "2026-01-31T23:00:00Z")]
    [InlineData("last year", "2024-12-31T23:00:00Z")]
    public void Parse_WhatPeopleWrite_IsTheMoment(string written, string expected) =>
        Assert.Equal(DateTimeOffset.Parse(expected, System.Globalization.CultureInfo.InvariantCulture), Moments().Parse("--at", written));

    [Theory]
    [InlineData("")]
    [InlineData("last friday")]
    [InlineData("yesterday ago")]
    [InlineData("last 7 days")]
    [InlineData("14:30")]
    [InlineData("02.03.2026 14:30")]
    [InlineData("20 ago")]
    [InlineData("20 mm ago")]
    [InlineData("-20 min ago")]
    [InlineData("2026-02-30 14:30")]
    public void Parse_AnythingElse_SaysWhatCanBeWritten(string written)
    {
        var error = Assert.Throws<CommandException>(() => Moments().Parse("--at", written));
        Assert.Equal($"--at '{written}' is no time; write for example \"2026-03-02 14:30\" (local), 2026-03-02T13:30:00Z, \"20 min ago\" or \"yesterday\".", error.Message);
    }

    // Berlin, EU rule: forward on 29 March 2026 at 02:00, back on 25 October 2026 at 03:00 (tz database).
    [Theory]
    [InlineData("2026-03-29 02:30", "does not exist here")]
    [InlineData("2026-10-25 02:30", "was twice here")]
    public void Parse_WhereTheClocksChange_AsksForTheZone(string written, string expected) =>
        Assert.Contains(expected, Assert.Throws<CommandException>(() => Moments().Parse("--at", written)).Message, StringComparison.Ordinal);

    [Fact]
    public void Of_AMoment_IsReadBackToTheMinute()
    {
        var text = Moments().Of(new DateTimeOffset(2026, 7, 2, 12, 30, 59, TimeSpan.Zero));
        Assert.Equal("2026-07-02 14:30", text);
        Assert.Equal(new DateTimeOffset(2026, 7, 2, 12, 30, 0, TimeSpan.Zero), Moments().Parse("--at", text));
    }

    [Theory]
    [InlineData("yesterday", "2026-03-08T23:00:00Z")]
    [InlineData("2026-03-02", "2026-03-02T23:00:00Z")]
    [InlineData("last week", "2026-03-08T23:00:00Z")]
    [InlineData("this month", "2026-03-31T22:00:00Z")]
    [InlineData("2026-03-02 14:30", "2026-03-02T13:30:00Z")]
    [InlineData("2 days ago", "2026-03-07T12:00:00Z")]
    [InlineData("now", "2026-03-09T12:00:00Z")]
    public void ParseEnd_WhatPeopleWrite_IncludesTheDaysThatAreNamed(string written, string expected) =>
        Assert.Equal(DateTimeOffset.Parse(expected, System.Globalization.CultureInfo.InvariantCulture), Moments().ParseEnd("--to", written));

    // 29 March 2026 has 23 hours here.
    [Theory]
    [InlineData("yesterday", "2026-03-07T23:00:00Z", "2026-03-08T23:00:00Z")]
    [InlineData("last week", "2026-03-01T23:00:00Z", "2026-03-08T23:00:00Z")]
    [InlineData("2026-03-29", "2026-03-28T23:00:00Z", "2026-03-29T22:00:00Z")]
    [InlineData("last 8 hours", "2026-03-09T04:00:00Z", "2026-03-09T12:00:00Z")]
    [InlineData("past 30 days", "2026-02-07T12:00:00Z", "2026-03-09T12:00:00Z")]
    [InlineData("2026-03-02 to 2026-03-04", "2026-03-01T23:00:00Z", "2026-03-04T23:00:00Z")]
    [InlineData("from 2026-03-02 14:30 to 2 days ago", "2026-03-02T13:30:00Z", "2026-03-07T12:00:00Z")]
    [InlineData("2026-03-02..yesterday", "2026-03-01T23:00:00Z", "2026-03-08T23:00:00Z")]
    [InlineData("2026-03-02T13:30:00Z .. now", "2026-03-02T13:30:00Z", "2026-03-09T12:00:00Z")]
    [InlineData("since 2026-03-02 14:30", "2026-03-02T13:30:00Z", "2026-03-09T12:00:00Z")]
    [InlineData("since yesterday", "2026-03-07T23:00:00Z", "2026-03-09T12:00:00Z")]
    [InlineData("before 2026-03-02", "1970-01-01T00:00:00Z", "2026-03-01T23:00:00Z")]
    public void ParsePeriod_WhatPeopleWrite_IsThePeriod(string written, string from, string to)
    {
        var period = Moments().ParsePeriod("--first", written);
        Assert.Equal(DateTimeOffset.Parse(from, System.Globalization.CultureInfo.InvariantCulture), period.From);
        Assert.Equal(DateTimeOffset.Parse(to, System.Globalization.CultureInfo.InvariantCulture), period.To);
    }

    [Theory]
    [InlineData("", "--first '' is no period; write for example \"last week\", \"last 30 days\", 2026-03-02, \"2026-03-02 to 2026-03-08\", \"since 2026-03-02 14:30\" or \"before yesterday\".")]
    [InlineData("2026-03-02 14:30", "--first '2026-03-02 14:30' is no period; write for example")]
    [InlineData("last 7 mm", "--first 'last 7 mm' is no period; write for example")]
    [InlineData("2026-03-08 to 2026-03-02", "--first '2026-03-08' to '2026-03-02' ends before it begins: 2026-03-08 00:00 to 2026-03-03 00:00.")]
    [InlineData("2026-03-02 to soon", "--first 'soon' is no time; write for example")]
    [InlineData("since 2026-04-01", "--first 'since 2026-04-01' lies in the future; name a time that is past.")]
    [InlineData("before noon", "--first 'noon' is no time; write for example")]
    public void ParsePeriod_AnythingElse_SaysWhatCanBeWritten(string written, string expected) =>
        Assert.StartsWith(expected, Assert.Throws<CommandException>(() => Moments().ParsePeriod("--first", written)).Message, StringComparison.Ordinal);

    private static MomentText Moments()
    {
        var time = new FakeTimeProvider(Now);
        time.SetLocalTimeZone(TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin"));
        return new MomentText(time);
    }
}
