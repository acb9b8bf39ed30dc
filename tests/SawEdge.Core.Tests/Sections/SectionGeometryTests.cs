using CsCheck;
using SawEdge.Core.Sections;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Sections;

public class SectionGeometryTests
{
    /// <summary>One of each kind, in sizes that the generator draws, lying in many ways.</summary>
    private static readonly Gen<Section> AnySection = Gen.Select(Gen.Double[20, 400], Gen.Double[0.3, 1], Gen.Double[0.02, 0.2], Gen.Double[0, 360], Gen.Int[0, 11])
        .Select((size, flat, thin, turn, kind) =>
        {
            var (height, width, wall) = (size, size * flat, size * flat * thin);
            return kind switch
            {
                0 => SectionFactory.Round(size),
                1 => SectionFactory.Rectangle(width, height),
                2 => SectionFactory.RoundTube(size, wall),
                3 => SectionFactory.RectangularTube(width, height, wall),
                4 => SectionFactory.Hexagon(size, turn),
                5 => SectionFactory.Angle(height, width, wall, wall, wall / 2, turn),
                6 => SectionFactory.Channel(height, width, wall, wall * 1.2, wall, wall / 3, 0.02, null, turn),
                7 => SectionFactory.Beam(height, width, wall, wall * 1.5, wall, turn),
                8 => SectionFactory.Tee(height, width, wall, wall * 1.5, wall, turn),
                9 => SectionFactory.Polygon((0, 0), (width, 0), (width * 0.3, height * 0.4), (width, height), (0, height * 0.8)),
                10 => SectionFactory.Bundle(SectionFactory.RoundTube(size, wall), 2, 3),
                _ => SectionFactory.Mitre(SectionFactory.Beam(height, width, wall, wall * 1.5, wall), turn / 6),
            };
        });

    [Fact]
    public void Area_between_depths_sums_to_the_area() => Gen.Select(AnySection, Gen.Double[0, 1], Gen.Double[0, 1]).Sample((section, a, b) =>
    {
        var (x, y) = (a * section.HeightMm, b * section.HeightMm);
        var sum = section.AreaBetweenCm2(-5, x) + section.AreaBetweenCm2(x, y) + section.AreaBetweenCm2(y, section.HeightMm + 5);

        // Depths nearer than a billionth of the extent count as one: in a thin profile that is all but level, some 5e-8 of its area.
        return Math.Abs(sum - section.AreaCm2) < 2e-7 * section.AreaCm2
            && Math.Abs(section.AreaBetweenCm2(x, y) + section.AreaBetweenCm2(y, x)) < 1e-12 * section.AreaCm2;
    });

    [Fact]
    public void The_area_is_the_integral_of_the_width_between_breaks() => AnySection.Sample(
        section =>
        {
            double[] stops = [0, .. section.BreaksMm, section.HeightMm];
            var area = 0.0;
            for (var i = 1; i < stops.Length; i++)
            {
                // In pieces, each with its own tolerance: where a tapered flange is all but level, the width falls by most of itself within a hundredth of the height.
                const int Pieces = 1024;
                var piece = (stops[i] - stops[i - 1]) / Pieces;
                for (var j = 0; j < Pieces; j++)
                    area += MathNet.Numerics.Integration.GaussKronrodRule.Integrate(section.WidthAt, stops[i - 1] + (j * piece), stops[i - 1] + ((j + 1) * piece), out _, out _, 1e-9, 20);
            }

            Assert.True(Math.Abs((area / 100) - section.AreaCm2) < 2e-7 * section.AreaCm2, $"{section.Notation}: {area / 100} against {section.AreaCm2}");
        },
        iter: 300);

    [Fact]
    public void Segments_are_in_order_inside_the_section_and_sum_to_the_width() => Gen.Select(AnySection, Gen.Double[0, 1]).Sample((section, share) =>
    {
        var room = new ContactSegment[section.MaximumSegments];
        var count = section.SegmentsAt(share * section.HeightMm, room);
        var near = 1e-7 * section.OverallWidthMm;
        var (sum, at) = (0.0, -near);
        for (var i = 0; i < count; i++)
        {
            if (room[i].FromMm < at - near || room[i].LengthMm < 0)
                return false;
            (sum, at) = (sum + room[i].LengthMm, room[i].ToMm);
        }

        return at <= section.OverallWidthMm + near && Math.Abs(sum - section.WidthAt(share * section.HeightMm)) <= near;
    });

    [Fact]
    public void Breaks_rise_and_lie_inside() => AnySection.Sample(section =>
        section.BreaksMm.Zip(section.BreaksMm.Skip(1)).All(p => p.First < p.Second)
        && section.BreaksMm.All(b => b > 0 && b < section.HeightMm));

    [Fact]
    public void A_jump_of_the_width_lies_only_at_a_break() => Gen.Select(AnySection, Gen.Double[0.001, 0.999]).Sample((section, share) =>
    {
        var at = share * section.HeightMm;
        var step = 1e-7 * section.HeightMm;
        if (section.BreaksMm.Append(0).Append(section.HeightMm).Any(b => Math.Abs(b - at) < 10 * step))
            return true;
        return Math.Abs(section.WidthAt(at + step) - section.WidthAt(at)) < 0.02 * section.OverallWidthMm;
    });

    [Fact]
    public void Twice_the_size_is_four_times_the_area_at_twice_the_depth() =>
        Gen.Select(Gen.Double[20, 300], Gen.Double[0, 1], Gen.Double[0, 360]).Sample((size, share, turn) =>
        {
            var one = SectionFactory.Beam(size, size * 0.6, size * 0.03, size * 0.05, size * 0.04, turn);
            var two = SectionFactory.Beam(2 * size, size * 1.2, size * 0.06, size * 0.1, size * 0.08, turn);
            return Math.Abs((two.AreaCm2 / one.AreaCm2) - 4) < 1e-6
                && Math.Abs(two.AreaBetweenCm2(0, share * two.HeightMm) - (4 * one.AreaBetweenCm2(0, share * one.HeightMm))) < 2e-7 * two.AreaCm2;
        });

    [Fact]
    public void Turning_keeps_the_area() => Gen.Double[0, 360].Sample(turn =>
    {
        var upright = SectionFactory.Channel(200, 75, 8.5, 11.5, 11.5, 6, 0.08, 37.5);
        var turned = SectionFactory.Channel(200, 75, 8.5, 11.5, 11.5, 6, 0.08, 37.5, turn);
        return Math.Abs(upright.AreaCm2 - turned.AreaCm2) < 2e-7 * upright.AreaCm2;
    });

    [Fact]
    public void A_quarter_turn_swaps_height_and_width()
    {
        var upright = SectionFactory.Beam(300, 150, 7.1, 10.7, 15);
        var flat = SectionFactory.Beam(300, 150, 7.1, 10.7, 15, 90);
        Assert.Equal(150, flat.HeightMm, 9);
        Assert.Equal(300, flat.OverallWidthMm, 9);
        Assert.Equal(150, upright.WidthAt(5), 9);
        Assert.Equal(7.1, upright.WidthAt(150), 9);
        Assert.Equal(2 * 10.7, flat.WidthAt(20), 9);
        Assert.Equal(300, flat.WidthAt(75), 9);
        var room = new ContactSegment[flat.MaximumSegments];
        Assert.Equal(2, flat.SegmentsAt(20, room));
        Assert.Equal(1, flat.SegmentsAt(75, room));
    }

    [Fact]
    public void A_polygon_of_a_circle_converges_to_the_circle()
    {
        var round = SectionFactory.Round(100);
        var before = double.PositiveInfinity;
        foreach (var corners in new[] { 12, 24, 48, 96, 192 })
        {
            var polygon = SectionFactory.Polygon([.. Enumerable.Range(0, corners).Select(i => (50 * Math.Cos(2 * Math.PI * i / corners), 50 * Math.Sin(2 * Math.PI * i / corners)))]);

            // Area of a regular polygon in a circle: n/2 r2 sin(2 pi / n).
            Assert.Equal(corners / 2.0 * 25 * Math.Sin(2 * Math.PI / corners), polygon.AreaCm2, 9);
            var error = Math.Abs(polygon.AreaBetweenCm2(0, 30) - round.AreaBetweenCm2(0, 30));
            Assert.True(error < before / 2, $"{corners}: {error} after {before}");
            before = error;
        }
    }

    [Fact]
    public void A_hexagon_lies_flat_or_on_its_point()
    {
        var flat = SectionFactory.Hexagon(50);
        var point = SectionFactory.Hexagon(50, 30);
        Assert.Equal(50, flat.HeightMm, 9);
        Assert.Equal(100 / Math.Sqrt(3), flat.OverallWidthMm, 9);
        Assert.Equal(100 / Math.Sqrt(3), point.HeightMm, 9);
        Assert.Equal(50, point.OverallWidthMm, 9);
        Assert.Equal(Math.Sqrt(3) / 2 * 25, flat.AreaCm2, 9);
        Assert.Equal(flat.AreaCm2, point.AreaCm2, 9);
        Assert.Equal(50 / Math.Sqrt(3), flat.WidthAt(0), 9);
        Assert.Equal(0, point.WidthAt(0), 9);
    }

    [Fact]
    public void An_angle_heel_up_opens_downward()
    {
        var angle = SectionFactory.Angle(100, 100, 10, 12, 0, 225);
        var room = new ContactSegment[angle.MaximumSegments];
        Assert.Equal(1, angle.SegmentsAt(5, room));
        Assert.Equal(10, room[0].LengthMm, 6);
        Assert.Equal(2, angle.SegmentsAt(50, room));
        Assert.Equal(Math.Sqrt(2) * 10, room[0].LengthMm, 6);
        Assert.Equal(110 / Math.Sqrt(2), angle.HeightMm, 9);
    }

    [Fact]
    public void A_bundle_is_rows_of_columns_of_its_bar()
    {
        var bundle = SectionFactory.Bundle(SectionFactory.Round(30), 2, 5);
        Assert.Equal(60, bundle.HeightMm);
        Assert.Equal(150, bundle.OverallWidthMm);
        Assert.Equal(10 * Math.PI * 2.25, bundle.AreaCm2, 9);
        Assert.Contains(30, bundle.BreaksMm);
        var room = new ContactSegment[bundle.MaximumSegments];
        Assert.Equal(5, bundle.SegmentsAt(5, room));

        // Where the bars touch, the contact is one stretch.
        Assert.Equal(1, bundle.SegmentsAt(15, room));
        Assert.Equal(150, room[0].LengthMm, 9);
        var squares = SectionFactory.Bundle(SectionFactory.Rectangle(20, 20), 3, 2);
        Assert.Equal(1, squares.SegmentsAt(30, room));
    }

    [Fact]
    public void A_mitre_widens_the_contact_by_one_over_its_cosine() => Gen.Select(Gen.Double[-60, 60], Gen.Double[0, 1]).Sample((angle, share) =>
    {
        var square = SectionFactory.RectangularTube(100, 60, 5);
        var mitred = SectionFactory.Mitre(square, angle);
        var wider = 1 / Math.Cos(angle * Math.PI / 180);
        return Math.Abs(mitred.WidthAt(share * 60) - (square.WidthAt(share * 60) * wider)) < 1e-9
            && Math.Abs(mitred.AreaCm2 - (square.AreaCm2 * wider)) < 1e-9
            && mitred.HeightMm == square.HeightMm;
    });

    [Theory]
    [InlineData("0,0 10,10 10,0 0,10", "cross")]
    [InlineData("0,0 10,0 5,0 5,10", "cross or touch")]
    [InlineData("0,0 10,0", "3 to")]
    [InlineData("0,0 10,0 10,0 0,10", "twice")]
    [InlineData("0,0 10,0 20,0", "cross or touch")]
    [InlineData("0,0 20,0 20,20 10,0 0,20", "cross or touch")]
    public void Polygons_that_cross_or_enclose_nothing_are_refused(string corners, string message)
    {
        var points = corners.Split(' ').Select(c => c.Split(',')).Select(c => (double.Parse(c[0], System.Globalization.CultureInfo.InvariantCulture), double.Parse(c[1], System.Globalization.CultureInfo.InvariantCulture)));
        Assert.Contains(message, Assert.Throws<SectionException>(() => SectionFactory.Polygon([.. points])).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(100, 100, 100, 0, 0, "less than")]
    [InlineData(100, 100, 10, 95, 0, "root radius")]
    [InlineData(100, 100, 10, 0, 11, "toe radius")]
    [InlineData(100, 0, 10, 0, 0, "width")]
    public void Angles_that_cannot_be_are_refused(double h, double b, double t, double root, double toe, string message) =>
        Assert.Contains(message, Assert.Throws<SectionException>(() => SectionFactory.Angle(h, b, t, root, toe)).Message, StringComparison.Ordinal);

    [Fact]
    public void Radii_that_do_not_fit_are_refused() =>
        Assert.Contains("do not fit", Assert.Throws<SectionException>(() => SectionFactory.Beam(100, 50, 5, 10, 30)).Message, StringComparison.Ordinal);

    [Fact]
    public void Questions_at_a_depth_allocate_nothing()
    {
        var sections = new[] { SectionFactory.Round(100), SectionFactory.Beam(300, 150, 7.1, 10.7, 15, 37), SectionFactory.Bundle(SectionFactory.RoundTube(30, 3), 2, 5), SectionFactory.Mitre(SectionFactory.Hexagon(50), 45) };
        var room = new ContactSegment[20];
        Assert.Equal(0, Allocations.Of(Ask));

        void Ask()
        {
            foreach (var section in sections)
            {
                for (var i = 0; i <= 50; i++)
                {
                    var depth = section.HeightMm * i / 50;
                    section.WidthAt(depth);
                    section.SegmentsAt(depth, room);
                    section.AreaBetweenCm2(depth / 2, depth);
                }
            }
        }
    }
}
