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
    public void Parse_WhatPeopleWrite_IsTheMoment(string written, string expected) =>
        Assert.Equal(DateTimeOffset.Parse(expected, System.Globalization.CultureInfo.InvariantCulture), Moments().Parse("--at", written));

    [Theory]
    [InlineData("")]
    [InlineData("yesterday")]
    [InlineData("14:30")]
    [InlineData("02.03.2026 14:30")]
    [InlineData("20 ago")]
    [InlineData("20 mm ago")]
    [InlineData("-20 min ago")]
    [InlineData("2026-02-30 14:30")]
    public void Parse_AnythingElse_SaysWhatCanBeWritten(string written)
    {
        var error = Assert.Throws<CommandException>(() => Moments().Parse("--at", written));
        Assert.Equal($"--at '{written}' is no time; write for example \"2026-03-02 14:30\" (local), 2026-03-02T13:30:00Z, or \"20 min ago\".", error.Message);
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

    private static MomentText Moments()
    {
        var time = new FakeTimeProvider(Now);
        time.SetLocalTimeZone(TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin"));
        return new MomentText(time);
    }
}
