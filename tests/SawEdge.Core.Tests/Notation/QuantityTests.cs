using CsCheck;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Tests.Notation;

public class QuantityTests
{
    [Theory]
    [InlineData("/3/4 in")]
    [InlineData("=250 mm")]
    [InlineData("; 250 mm")]
    [InlineData("$5 mm")]
    [InlineData("~ 5 mm")]
    [InlineData("(5) mm")]
    [InlineData("- 5 mm")]
    [InlineData("--5 mm")]
    [InlineData("+-5 mm")]
    [InlineData(". mm")]
    [InlineData("+. mm")]
    [InlineData("-..5 mm")]
    [InlineData("'4 in")]
    [InlineData("x4 in")]
    public void What_does_not_begin_with_a_number_is_no_quantity(string text) => Assert.Null(Quantity.Parse(text));

    [Theory]
    [InlineData("  250 mm ", 250, "mm")]
    [InlineData("\t.5 in", 0.5, "in")]
    [InlineData("+.5 in", 0.5, "in")]
    [InlineData("-.5 in", -0.5, "in")]
    [InlineData("5. mm", 5, "mm")]
    [InlineData("-1-1/4 in", -1.25, "in")]
    public void A_number_may_have_a_sign_a_point_and_blanks_before_it(string text, double value, string unit) => Assert.Equal(new Quantity(value, unit), Quantity.Parse(text));

    [Fact]
    public void Nothing_but_blanks_may_stand_before_the_number() => Gen.Select(Gen.Char["/=;$~()[]{}#&_!?<>|\\^`%*°×\"'"], Gen.Int[1, 999]).Sample((sign, number) =>
    {
        Assert.Null(Quantity.Parse($"{sign}{number} mm"));
        Assert.Null(Quantity.Parse($" {sign} {number} mm"));
    });

    [Fact]
    public void Metric_and_inch_agree() => Gen.Int[1, 1_000_000].Sample(thousandths =>
    {
        // 0.001 in are 0.0254 mm, exactly.
        var inch = Quantity.Parse(FormattableString.Invariant($"{thousandths / 1000}.{thousandths % 1000:000} in"))!.Value.LengthMm!.Value;
        var metric = Quantity.Parse(FormattableString.Invariant($"{thousandths * 254L / 10_000}.{thousandths * 254L % 10_000:0000} mm"))!.Value.LengthMm!.Value;
        Assert.Equal(metric, inch, 1e-12 * metric);
    });
}
