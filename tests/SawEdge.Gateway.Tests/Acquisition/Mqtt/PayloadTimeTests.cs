using System.Globalization;
using System.Text;
using CsCheck;
using SawEdge.Gateway.Acquisition.Mqtt;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

public class PayloadTimeTests
{
    // 1,000,000,000 s after 1970 is 2001-09-09T01:46:40Z: a date known far and wide, and computed here by the runtime's own calendar too.
    [Theory]
    [InlineData("1000000000", "2001-09-09T01:46:40.0000000Z")]
    [InlineData("1000000000.25", "2001-09-09T01:46:40.2500000Z")]
    [InlineData("1e9", "2001-09-09T01:46:40.0000000Z")]
    [InlineData("1000000000000", "2001-09-09T01:46:40.0000000Z")]
    [InlineData("1000000000250", "2001-09-09T01:46:40.2500000Z")]
    [InlineData("1000000000250125", "2001-09-09T01:46:40.2501250Z")]
    [InlineData("1000000000250125000", "2001-09-09T01:46:40.2501250Z")]
    [InlineData("1772431200.123", "2026-03-02T06:00:00.1230000Z")]
    [InlineData("0", "1970-01-01T00:00:00.0000000Z")]
    [InlineData("-1", "1969-12-31T23:59:59.0000000Z")]
    public void TryReadNumber_CountSince1970_UnitShowsInItsSize(string text, string moment)
    {
        Assert.True(PayloadTime.TryReadNumber(Encoding.UTF8.GetBytes(text), out var time));
        Assert.Equal(moment, time.UtcDateTime.ToString("O", CultureInfo.InvariantCulture));
    }

    [Theory]
    [InlineData("1e300")]
    [InlineData("NaN")]
    [InlineData("")]
    [InlineData("now")]
    public void TryReadNumber_NoMoment_IsRefused(string text) =>
        Assert.False(PayloadTime.TryReadNumber(Encoding.UTF8.GetBytes(text), out _));

    [Fact]
    public void TryReadNumber_AnyDouble_NeverThrows() =>
        Gen.Double.Sample(value => Assert.True(!PayloadTime.TryReadNumber(Encoding.UTF8.GetBytes(value.ToString("R", CultureInfo.InvariantCulture)), out var time) || time.Offset == TimeSpan.Zero), iter: 10_000);

    [Theory]
    [InlineData("2026-03-02T06:00:00Z", true)]
    [InlineData("2026-03-03T05:00:00Z", true)]
    [InlineData("2026-02-24T06:00:00Z", true)]
    [InlineData("2026-03-03T07:00:00Z", false)]
    [InlineData("2027-03-02T06:00:00Z", false)]
    [InlineData("2026-02-22T06:00:00Z", false)]
    [InlineData("1970-01-01T00:10:00Z", false)]
    public void IsPlausible_SeenAtSixOnTheSecondOfMarch(string time, bool plausible) =>
        Assert.Equal(plausible, PayloadTime.IsPlausible(DateTimeOffset.Parse(time, CultureInfo.InvariantCulture), new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero)));
}
