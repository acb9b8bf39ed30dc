using System.Globalization;
using System.Text;
using CsCheck;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Tests.Formats;

/// <summary>
/// Local times. Germany changed its clocks on 2026-03-29 at 01:00 UTC (02:00 to 03:00) and 2026-10-25 at 01:00 UTC (03:00 to 02:00),
/// as Directive 2000/84/EC has it: the last Sunday of March and of October at 01:00 UTC.
/// </summary>
public class WrittenTimeTests
{
    private static readonly TimeZoneInfo Berlin = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");

    [Theory]
    [InlineData("2026-03-02T06:00:00.5Z", "2026-03-02T06:00:00.5000000Z")]
    [InlineData("2026-03-02T06:00:00+01:00", "2026-03-02T05:00:00.0000000Z")]
    [InlineData("2026-03-02T06:00:00.25", "2026-03-02T05:00:00.2500000Z")]
    [InlineData("2026-03-02 06:00:00", "2026-03-02T05:00:00.0000000Z")]
    [InlineData("2026-07-02T06:00:00", "2026-07-02T04:00:00.0000000Z")]
    public void TryParse_NoPattern_AZoneIsTakenWhereItIsNotWritten(string text, string moment) => Assert.Equal((moment, null), Read(new WrittenTime(Berlin, null), text));

    [Theory]
    [InlineData("dd.MM.yyyy HH:mm:ss.fff", "02.03.2026 06:00:00.125", "2026-03-02T05:00:00.1250000Z")]
    [InlineData("M/d/yyyy h:mm:ss tt", "3/2/2026 6:00:00 PM", "2026-03-02T17:00:00.0000000Z")]
    [InlineData("'DT#'yyyy-MM-dd-HH:mm:ss.fff", "DT#2026-03-02-06:00:00.125", "2026-03-02T05:00:00.1250000Z")]
    [InlineData("yyyyMMddHHmmss", "20260302060000", "2026-03-02T05:00:00.0000000Z")]
    [InlineData("yyyy-MM-dd HH:mm:sszzz", "2026-03-02 06:00:00+05:00", "2026-03-02T01:00:00.0000000Z")]
    [InlineData("ddd, dd MMM yyyy HH:mm:ss K", "Mon, 02 Mar 2026 06:00:00 Z", "2026-03-02T06:00:00.0000000Z")]
    public void TryParse_Pattern_IsRead(string pattern, string text, string moment) => Assert.Equal((moment, null), Read(new WrittenTime(Berlin, pattern), text));

    [Theory]
    [InlineData(null, "2026-03-02T06:00:00")]
    [InlineData(null, "06:00")]
    [InlineData("dd.MM.yyyy HH:mm:ss", "02.03.2026 06:00:00")]
    public void TryParse_NoZoneKnown_IsRefused(string? pattern, string text) =>
        Assert.False(new WrittenTime(null, pattern).TryParse(Encoding.UTF8.GetBytes(text), out _, out _));

    [Theory]
    [InlineData("2026-03-29T01:59:59", "2026-03-29T00:59:59.0000000Z", null)]
    [InlineData("2026-03-29T03:00:00", "2026-03-29T01:00:00.0000000Z", null)]
    [InlineData("2026-03-29T02:30:00", "2026-03-29T01:30:00.0000000Z", null)]
    [InlineData("2026-10-25T01:59:59", "2026-10-24T23:59:59.0000000Z", null)]
    [InlineData("2026-10-25T02:30:00", "2026-10-25T00:30:00.0000000Z", "2026-10-25T01:30:00.0000000Z")]
    [InlineData("2026-10-25T03:00:00", "2026-10-25T02:00:00.0000000Z", null)]
    public void TryParse_NightOfAClockChange_BothMomentsAreSaid(string text, string moment, string? later) => Assert.Equal((moment, later), Read(new WrittenTime(Berlin, null), text));

    [Fact]
    public void TryParse_AnyBytes_NeverThrows() =>
        Gen.Select(Gen.Byte.Array[0, 80], Gen.Int[0, 2]).Sample((text, kind) => new WrittenTime(Berlin, new[] { null, "dd.MM.yyyy HH:mm:ss", "yyyy-MM-dd HH:mm:sszzz" }[kind]).TryParse(text, out var time, out var later) || time == default && later is null, iter: 10_000);

    [Theory]
    [InlineData("0001-01-01T00:00:00")]
    [InlineData("9999-12-31T23:59:59")]
    public void TryParse_EndsOfTime_AreRefused(string text) => Assert.False(new WrittenTime(Berlin, null).TryParse(Encoding.UTF8.GetBytes(text), out _, out _));

    private static (string Moment, string? Later) Read(WrittenTime written, string text)
    {
        Assert.True(written.TryParse(Encoding.UTF8.GetBytes(text), out var time, out var later));
        return (time.UtcDateTime.ToString("O", CultureInfo.InvariantCulture), later?.UtcDateTime.ToString("O", CultureInfo.InvariantCulture));
    }
}
