using System.Globalization;
using System.Text;
using CsCheck;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Tests.Formats;

public class NumberTextTests
{
    // The runtime's own reader is the reference here.
    [Fact]
    public void TryParse_ShortDecimal_IsTheNearestDouble() =>
        Gen.Select(Gen.Long[-999_999_999_999_999, 999_999_999_999_999], Gen.Int[0, 15]).Sample(
            (digits, decimals) =>
            {
                var text = Math.Abs(digits).ToString(CultureInfo.InvariantCulture).PadLeft(decimals + 1, '0');
                text = (digits < 0 ? "-" : "") + (decimals == 0 ? text : text[..^decimals] + "." + text[^decimals..]);
                AssertSame(text);
            },
            iter: 10_000);

    [Fact]
    public void TryParse_ShortestFormOfAnyDouble_IsThatDouble() =>
        Gen.Double.Sample(
            value =>
            {
                Assert.True(NumberText.TryParse(Encoding.UTF8.GetBytes(value.ToString("R", CultureInfo.InvariantCulture)), out var read));
                Assert.Equal(BitConverter.DoubleToInt64Bits(value), BitConverter.DoubleToInt64Bits(read));
            },
            iter: 10_000);

    [Theory]
    [InlineData("0")]
    [InlineData("-0")]
    [InlineData("000000000000000000001.5")]
    [InlineData("0.000000000000000000000000001")]
    [InlineData("123456789012345678901234567890")]
    [InlineData("1e3")]
    [InlineData("+5")]
    [InlineData("5.")]
    [InlineData(".5")]
    public void TryParse_UnusualNumber_IsRead(string text) => AssertSame(text);

    [Theory]
    [InlineData("")]
    [InlineData("-")]
    [InlineData(".")]
    [InlineData("-.")]
    [InlineData("1,5")]
    [InlineData("1.2.3")]
    [InlineData("1 000")]
    [InlineData("12kW")]
    [InlineData("0x10")]
    public void TryParse_NoNumber_IsRefused(string text) =>
        Assert.False(NumberText.TryParse(Encoding.UTF8.GetBytes(text), out _));

    private static void AssertSame(string text)
    {
        Assert.True(NumberText.TryParse(Encoding.UTF8.GetBytes(text), out var read), text);
        Assert.Equal(BitConverter.DoubleToInt64Bits(double.Parse(text, CultureInfo.InvariantCulture)), BitConverter.DoubleToInt64Bits(read));
    }
}
