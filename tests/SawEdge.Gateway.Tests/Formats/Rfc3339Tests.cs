using System.Globalization;
using System.Text;
using CsCheck;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Tests.Formats;

public class Rfc3339Tests
{
    // The examples of RFC 3339, section 5.8, with the moments that the section itself gives for them.
    [Theory]
    [InlineData("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.5200000Z")]
    [InlineData("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57.0000000Z")]
    [InlineData("1990-12-31T23:59:60Z", "1991-01-01T00:00:00.0000000Z")]
    [InlineData("1990-12-31T15:59:60-08:00", "1991-01-01T00:00:00.0000000Z")]
    [InlineData("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.8700000Z")]
    // Section 5.6, notes: lower-case letters, and a space for readability.
    [InlineData("1985-04-12t23:20:50.52z", "1985-04-12T23:20:50.5200000Z")]
    [InlineData("1985-04-12 23:20:50.52Z", "1985-04-12T23:20:50.5200000Z")]
    // Section 4.3: the unknown local offset.
    [InlineData("2026-03-02T06:00:00-00:00", "2026-03-02T06:00:00.0000000Z")]
    // Not in the RFC, read all the same.
    [InlineData("2026-03-02T06:00:00+0130", "2026-03-02T04:30:00.0000000Z")]
    [InlineData("2026-03-02T06:00:00.12345678999Z", "2026-03-02T06:00:00.1234567Z")]
    [InlineData("2024-02-29T00:00:00Z", "2024-02-29T00:00:00.0000000Z")]
    public void TryParse_Time_IsItsMoment(string text, string moment)
    {
        Assert.True(Rfc3339.TryParse(Encoding.UTF8.GetBytes(text), out var time));
        Assert.Equal(moment, time.UtcDateTime.ToString("O", CultureInfo.InvariantCulture));
    }

    [Theory]
    [InlineData("")]
    [InlineData("2026-03-02")]
    [InlineData("2026-03-02T06:00:00")]
    [InlineData("2026-03-02T06:00:00.5")]
    [InlineData("2026-03-02T06:00:00.Z")]
    [InlineData("2026-03-02T06:00Z")]
    [InlineData("2026-02-29T06:00:00Z")]
    [InlineData("2026-13-01T06:00:00Z")]
    [InlineData("2026-00-01T06:00:00Z")]
    [InlineData("0000-01-01T06:00:00Z")]
    [InlineData("2026-03-02T24:00:00Z")]
    [InlineData("2026-03-02T06:60:00Z")]
    [InlineData("2026-03-02T06:00:61Z")]
    [InlineData("2026-03-02T06:00:00+24:00")]
    [InlineData("2026-03-02T06:00:00+1:00")]
    [InlineData("2026-03-02T06:00:00Zjunk")]
    [InlineData("0001-01-01T00:00:00+01:00")]
    [InlineData("9999-12-31T23:59:60Z")]
    [InlineData("1772431200000")]
    [InlineData("02.03.2026 06:00:00 +01:00")]
    public void TryParse_NoTimeWithZone_IsRefused(string text) =>
        Assert.False(Rfc3339.TryParse(Encoding.UTF8.GetBytes(text), out _));

    [Theory]
    [InlineData("2026-03-02T06:00:00.0000000Z", "2026-03-02T06:00:00.000Z")]
    [InlineData("2026-03-02T06:00:00.2500000Z", "2026-03-02T06:00:00.250Z")]
    [InlineData("2026-03-02T06:00:00.1234500Z", "2026-03-02T06:00:00.12345Z")]
    [InlineData("2026-03-02T06:00:00.0000001Z", "2026-03-02T06:00:00.0000001Z")]
    public void Format_Moment_HasMillisecondsAndNoMoreThanItNeeds(string moment, string written)
    {
        var buffer = new byte[Rfc3339.MaximumLength];
        var length = Rfc3339.Format(DateTimeOffset.Parse(moment, CultureInfo.InvariantCulture), buffer);
        Assert.Equal(written, Encoding.UTF8.GetString(buffer, 0, length));
    }

    [Fact]
    public void TryParse_WhatFormatWrote_IsTheSameMoment() =>
        Gen.Long[0, DateTime.MaxValue.Ticks].Sample(
            ticks =>
            {
                var time = new DateTimeOffset(ticks, TimeSpan.Zero);
                var buffer = new byte[Rfc3339.MaximumLength];
                var length = Rfc3339.Format(time, buffer);
                Assert.True(Rfc3339.TryParse(buffer.AsSpan(0, length), out var read));
                Assert.Equal(time, read);
            },
            iter: 10_000);

    [Fact]
    public void TryParse_ArbitraryBytes_NeverThrows() =>
        Gen.Byte.Array[0, 40].Sample(bytes => Assert.True(!Rfc3339.TryParse(bytes, out _) || bytes.Length >= 20), iter: 10_000);
}
