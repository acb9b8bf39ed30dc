using CsCheck;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Tests.Sections;

public class SectionNotationTests
{
    [Theory]
    [InlineData("round 100 mm", 78.53981634)]
    [InlineData("Round 10cm", 78.53981634)]
    [InlineData("round 4 in", 81.07319665559)]
    [InlineData("round 1-1/4\"", 7.917304360898)]
    [InlineData("round 1 1/4 in.", 7.917304360898)]
    [InlineData("square 50 mm", 25)]
    [InlineData("rect 100 x 50 mm", 50)]
    [InlineData("flat 100x50mm", 50)]
    [InlineData("tube 4 in x 0.25 in wall", 19.00153046615)]
    [InlineData("tube 4 in x 1/4 wall", 19.00153046615)]
    [InlineData("pipe 101.6 mm wall 6.35 mm", 19.00153046615)]
    [InlineData("square tube 100 x 10 mm corner 0", 36)]
    [InlineData("hex 50 mm AF", 21.65063509461)]
    [InlineData("equal angle 100 x 10 mm", 19)]
    [InlineData("angle 100 x 50 x 10 mm", 14)]
    [InlineData("i-section 200 x 100 x 10 x 20 mm", 56)]
    [InlineData("i-beam height 200 mm width 100 mm web 10 mm flange 20 mm", 56)]
    [InlineData("tee 100 x 100 x 10 x 10 mm", 19)]
    [InlineData("polygon (0, 0) (100, 0) (100, 50) (0, 50) mm", 50)]
    [InlineData("polygon (0 0) (4 0) (0 2) in", 25.8064)]
    [InlineData("bundle 2 x 5 of square 10 mm", 10)]
    [InlineData("rect 100 x 50 mm mitre 60 deg", 100)]
    [InlineData("rect 100 x 50 mm, mitre 60°", 100)]
    [InlineData("IPE 300", 53.81, 0.005)]
    [InlineData("ipe300, web flat", 53.81, 0.005)]
    [InlineData("HE 200 A", 53.83, 0.005)]
    [InlineData("HEB160", 54.25, 0.005)]
    [InlineData("L 100x100x10", 19.2, 0.05)]
    [InlineData("L100x10 heel up", 19.2, 0.05)]
    [InlineData("UPE 200 toes down", 29.0, 0.05)]
    [InlineData("UNP 200", 32.2, 0.05)]
    [InlineData("W12x26", 49.36, 0.3)]
    [InlineData("w 12 x 26 turned 90 deg", 49.36, 0.3)]
    [InlineData("C15x33.9", 64.5, 0.4)]
    [InlineData("L3-1/2x3x1/2", 19.5, 0.2)]
    [InlineData("HSS 6x4x1/4", 29.9, 0.5)]
    [InlineData("HSS 4.500 x 0.237", 20.48, 0.01)]
    [InlineData("pipe 4 in sch 40", 20.48, 0.02)]
    [InlineData("pipe 4\" schedule 40", 20.48, 0.02)]
    [InlineData("pipe 1-1/2 in, sch 80", 6.89, 0.02)]
    [InlineData("NPS 4 STD", 20.48, 0.02)]
    [InlineData("bundle 2 x 2 of IPE 300", 215.24, 0.02)]
    [InlineData("IPE 300, web flat, mitre 60 deg", 107.62, 0.01)]
    public void Parse_reads_what_the_trade_writes(string text, double areaCm2, double within = 1e-8)
    {
        var parse = SectionNotation.Parse(text);
        Assert.True(parse.Section is not null, parse.Problem);
        Assert.Equal(areaCm2, parse.Section.AreaCm2, within == 1e-8 ? within * areaCm2 : within);
    }

    [Theory]
    [InlineData("round 100 mm")]
    [InlineData("square 50 mm")]
    [InlineData("rect 100 x 50 mm")]
    [InlineData("tube 101.6 x 6.35 mm wall")]
    [InlineData("rect tube 100 x 60 x 5 mm wall, corner 10 mm, inner corner 5 mm")]
    [InlineData("hex 50 mm, point down")]
    [InlineData("angle 100 x 75 x 8 mm, root 10 mm, toe 5 mm, heel up")]
    [InlineData("channel 200 x 75 x 8.5 x 11.5 mm, root 11.5 mm, toe 6 mm, taper 8 %, flange at 37.5 mm, toes down")]
    [InlineData("i-section 300 x 150 x 7.1 x 10.7 mm, root 15 mm, web flat")]
    [InlineData("tee 100 x 100 x 8 x 12 mm, root 8 mm, turned 12.5 deg")]
    [InlineData("polygon (0, 0) (80, 0) (40, 60) mm")]
    [InlineData("polygon (0, 0) (80, -10.5) (40, 60) mm, mitre 30 deg")]
    [InlineData("bundle 2 x 5 of round 30 mm")]
    [InlineData("bundle 2 x 5 of hex 30 mm, point down, mitre 45 deg")]
    [InlineData("IPE 300, web flat")]
    [InlineData("L 100x100x10, heel up")]
    [InlineData("W12x26")]
    [InlineData("pipe 4 in sch 40")]
    [InlineData("pipe 1-1/2 in XXS")]
    [InlineData("HSS 6x4x1/4, mitre 45 deg")]
    public void Notation_is_read_back_as_it_is_written(string text) => Assert.Equal(text, SectionNotation.Parse(text).Section!.Notation);

    [Fact]
    public void Metric_and_inch_agree()
    {
        Check.Sample(Gen.Select(Gen.Int[1, 64], Gen.Int[1, 15]), (sixteenths, wall) =>
        {
            var inch = SectionNotation.Parse($"tube {sixteenths + 32}/16 in x {wall}/16 in wall").Section!;
            var metric = SectionNotation.Parse(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"tube {(sixteenths + 32) * 25.4 / 16} mm x {wall * 0.254 / 1.6} cm wall")).Section!;
            Assert.Equal(inch.AreaCm2, metric.AreaCm2, 1e-9 * inch.AreaCm2);
            Assert.Equal(inch.WidthAt(10), metric.WidthAt(10), 1e-6);
        });
    }

    [Fact]
    public void Hostile_text_ends_in_errors_never_in_an_exception()
    {
        const string Signs = "round tube 4 in x 0.25 wall bundle of polygon (,)%\"'°-+./ IPE300 sch XXS \u0000é×*";
        Check.Sample(Gen.Int[0, Signs.Length - 1].Array[0, 60], picks =>
        {
            var parse = SectionNotation.Parse(string.Concat(picks.Select(i => Signs[i])));
            return parse.Section is null != (parse.Errors.Count == 0);
        });
        Assert.Null(SectionNotation.Parse(new string('9', 5000)).Section);
        Assert.Null(SectionNotation.Parse("round " + new string('9', 400) + " mm").Section);
    }

    [Theory]
    [InlineData("", 0, "missing")]
    [InlineData("ruond 100 mm", 0, "no known shape")]
    [InlineData("round", 5, "needs its od")]
    [InlineData("round 100", 6, "no unit")]
    [InlineData("round 100 furlong", 10, "no known unit")]
    [InlineData("round -5 mm", 0, "not above zero")]
    [InlineData("round 0 mm", 0, "not above zero")]
    [InlineData("tube 100 x 50 mm", 0, "half the diameter")]
    [InlineData("tube 100 mm x", 12, "missing after 'x'")]
    [InlineData("rect 100 x 50 x 20 mm", 16, "one size too many")]
    [InlineData("round 100 mm & 3", 13, "no meaning")]
    [InlineData("round 100 mm turned 45 deg", 13, "no meaning")]
    [InlineData("hex 50 mm sideways", 10, "no meaning")]
    [InlineData("i-section 300 x 150 x 160 x 10 mm", 0, "less than the width")]
    [InlineData("polygon (0, 0) (10, 10) (10, 0) (0, 10) mm", 0, "cross")]
    [InlineData("polygon (0, 0) (10, 10) (10, 0)", 31, "unit")]
    [InlineData("polygon (0, 0 (10, 10) mm", 8, "(x, y)")]
    [InlineData("bundle 0 x 5 of round 10 mm", 7, "no number of bars")]
    [InlineData("bundle 2 x 2 of bundle 2 x 2 of round 10 mm", 16, "bundle of bundles")]
    [InlineData("bundle 2 x 5 of round -1 mm", 16, "not above zero")]
    [InlineData("rect 100 x 50 mm mitre 80 deg", 0, "not between")]
    [InlineData("IPE 310", 0, "IPE 300")]
    [InlineData("IPE 300 toes down", 8, "no meaning")]
    [InlineData("pipe 4 in sch 41", 0, "40")]
    [InlineData("pipe 4-1/4 in sch 40", 0, "nominal pipe size")]
    [InlineData("HSS 4x4x3", 0, "half the")]
    [InlineData("round 1/0 in", 6, "divides by zero")]
    [InlineData("tube 100 mm OD x 120 mm ID", 0, "not less than")]
    public void Parse_says_where_it_is_wrong_and_what_would_be_right(string text, int position, string message)
    {
        var parse = SectionNotation.Parse(text);
        Assert.Null(parse.Section);
        Assert.Equal(position, parse.Errors[0].Position);
        Assert.Contains(message, parse.Errors[0].Message, StringComparison.Ordinal);
    }
}
