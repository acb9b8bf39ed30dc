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
    public void Parse_reads_what_the_trade_writes(string text, double areaCm2)
    {
        var parse = SectionNotation.Parse(text);
        Assert.True(parse.Section is not null, parse.Problem);
        Assert.Equal(areaCm2, parse.Section.AreaCm2, 1e-8 * areaCm2);
    }

    [Theory]
    [InlineData("round 100 mm")]
    [InlineData("square 50 mm")]
    [InlineData("rect 100 x 50 mm")]
    [InlineData("tube 101.6 x 6.35 mm wall")]
    [InlineData("rect tube 100 x 60 x 5 mm wall, corner 10 mm, inner corner 5 mm")]
    public void Notation_is_read_back_as_it_is_written(string text) => Assert.Equal(text, SectionNotation.Parse(text).Section!.Notation);

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
