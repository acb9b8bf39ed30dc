using SawEdge.Core.Sections;

namespace SawEdge.Core.Tests.Sections;

/// <summary>The outline of a section against the section's own area, height and width.</summary>
public sealed class SectionOutlineTests
{
    [Theory]
    [InlineData("round 100 mm", 1)]
    [InlineData("square 60 mm", 1)]
    [InlineData("hex 50 mm, point down", 1)]
    [InlineData("tube 100 mm x 8 mm wall", 2)]
    [InlineData("rect tube 100 x 60 x 5 mm", 2)]
    [InlineData("IPE 300", 1)]
    [InlineData("IPE 300, web flat", 1)]
    [InlineData("L 100x100x10", 1)]
    [InlineData("polygon (0, 0) (80, 0) (40, 60) mm", 1)]
    [InlineData("round 80 mm, mitre 45 deg", 1)]
    public void Of_EverySection_EnclosesItsArea(string notation, int loops)
    {
        var section = SectionNotation.Parse(notation).Section!;
        var outline = SectionOutline.Of(section);
        Assert.Equal(loops, outline.Count);
        Agrees(section, outline);
    }

    [Theory]
    [InlineData("bundle 2 x 5 of round 30 mm")]
    [InlineData("bundle 3 x 4 of square 40 mm")]
    [InlineData("bundle 2 x 2 of tube 60 mm x 5 mm wall")]
    [InlineData("bundle 10 x 10 of round 20 mm")]
    public void Of_Bundle_EnclosesItsArea(string notation)
    {
        var section = SectionNotation.Parse(notation).Section!;
        Agrees(section, SectionOutline.Of(section));
    }

    [Fact]
    public void Of_Square_IsItsFourCorners()
    {
        var outline = SectionOutline.Of(SectionNotation.Parse("square 60 mm").Section!);
        Assert.Equal([new(0, 0), new(60, 0), new(60, 60), new(0, 60)], Assert.Single(outline));
    }

    private static void Agrees(Section section, IReadOnlyList<IReadOnlyList<OutlinePoint>> outline)
    {
        // The shoelace formula; a hole runs the other way round and counts against.
        var area = Math.Abs(outline.Sum(loop => loop.Index().Sum(at =>
        {
            var next = loop[(at.Index + 1) % loop.Count];
            return ((at.Item.X * next.Y) - (next.X * at.Item.Y)) / 2;
        })));
        Assert.InRange(area / 100 / section.AreaCm2, 0.99, 1.005);
        var points = outline.SelectMany(loop => loop).ToList();
        Assert.Equal(0, points.Min(point => point.Y), 2);
        Assert.Equal(section.HeightMm, points.Max(point => point.Y), 2);
        Assert.Equal(0, points.Min(point => point.X), 0);
        Assert.Equal(section.OverallWidthMm, points.Max(point => point.X), 0);
        Assert.InRange(points.Count, 3, 10_000);
    }
}
