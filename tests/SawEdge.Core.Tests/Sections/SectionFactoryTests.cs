using CsCheck;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Tests.Sections;

public class SectionFactoryTests
{
    [Fact]
    public void Areas_of_simple_shapes_are_those_of_geometry()
    {
        Assert.Equal(Math.PI * 25, SectionFactory.Round(100).AreaCm2, 10);
        Assert.Equal(50, SectionFactory.Rectangle(100, 50).AreaCm2, 10);
        Assert.Equal(Math.PI * (25 - 16), SectionFactory.RoundTube(100, 10).AreaCm2, 10);
        Assert.Equal((6000 - (90 * 50) - ((4 - Math.PI) * (100 - 25))) / 100, SectionFactory.RectangularTube(100, 60, 5, 10, 5).AreaCm2, 10);
    }

    [Fact]
    public void WidthAt_a_round_is_its_chord()
    {
        var round = SectionFactory.Round(100);
        Assert.Equal(0, round.WidthAt(0), 9);
        Assert.Equal(60, round.WidthAt(10), 9);
        Assert.Equal(100, round.WidthAt(50), 9);
        Assert.Equal(0, round.WidthAt(-0.1));
        Assert.Equal(0, round.WidthAt(100.1));
        Assert.Empty(round.BreaksMm);
    }

    [Fact]
    public void SegmentsAt_a_tube_are_two_below_its_top_wall()
    {
        var tube = SectionFactory.RoundTube(100, 10);
        var room = new ContactSegment[tube.MaximumSegments];
        Assert.Equal(1, tube.SegmentsAt(5, room));
        Assert.Equal(2, tube.SegmentsAt(50, room));
        Assert.Equal(0, room[0].FromMm, 9);
        Assert.Equal(10, room[0].ToMm, 9);
        Assert.Equal(90, room[1].FromMm, 9);
        Assert.Equal([10, 90], tube.BreaksMm.Select(b => Math.Round(b, 9)));
    }

    [Fact]
    public void Sizes_that_make_no_section_are_refused_by_name()
    {
        Assert.Contains("diameter", Assert.Throws<SectionException>(() => SectionFactory.Round(0)).Message, StringComparison.Ordinal);
        Assert.Contains("height", Assert.Throws<SectionException>(() => SectionFactory.Rectangle(10, -1)).Message, StringComparison.Ordinal);
        Assert.Contains("half the diameter", Assert.Throws<SectionException>(() => SectionFactory.RoundTube(100, 50)).Message, StringComparison.Ordinal);
        Assert.Contains("corner", Assert.Throws<SectionException>(() => SectionFactory.RectangularTube(100, 60, 5, 31)).Message, StringComparison.Ordinal);
        Assert.Throws<SectionException>(() => SectionFactory.Round(double.NaN));
    }

    [Fact]
    public void Mean_width_of_a_tube_agrees_with_the_worked_example()
    {
        // Instruction manual of a metal-cutting band saw (577786, p. 10): 4 in OD x 3 in ID, 5.5 in2 / 4 in = 1.38 in, printed from rounded areas.
        var tube = SectionNotation.Parse("tube 4 in OD x 3 in ID").Section!;
        Assert.Equal(5.5, tube.AreaCm2 / 6.4516, 0.01);
        Assert.Equal(1.38, tube.MeanWidthMm / 25.4, 0.01);
        Assert.Equal(1.374447, tube.MeanWidthMm / 25.4, 6);
    }

    [Fact]
    public void Area_between_depths_sums_to_the_area()
    {
        Gen.Select(Gen.Double[1, 500], Gen.Double[0.01, 0.49], Gen.Double[0, 1], Gen.Double[0, 1]).Sample((size, wall, a, b) =>
        {
            Section[] all = [SectionFactory.Round(size), SectionFactory.RoundTube(size, wall * size), SectionFactory.RectangularTube(size, size / 2, wall * size / 2)];
            return all.All(s =>
            {
                var (x, y) = (a * s.HeightMm, b * s.HeightMm);
                var sum = s.AreaBetweenCm2(0, x) + s.AreaBetweenCm2(x, y) + s.AreaBetweenCm2(y, s.HeightMm);
                return Math.Abs(sum - s.AreaCm2) < 1e-9 * s.AreaCm2;
            });
        });
    }
}
