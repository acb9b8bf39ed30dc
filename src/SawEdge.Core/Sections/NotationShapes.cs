namespace SawEdge.Core.Sections;

/// <summary>How one shape is written.</summary>
/// <param name="Names">What it may be called; the first is the one the messages use.</param>
/// <param name="Example">How it is written, shown in messages.</param>
/// <param name="Places">The labels of its sizes in the order in which they are written without labels.</param>
/// <param name="Labels">Every label it takes.</param>
/// <param name="Words">Every other word it takes.</param>
/// <param name="Build">Builds it.</param>
internal sealed record Shape(string[] Names, string Example, string[] Places, string[] Labels, string[] Words, Func<NotationSizes, Section> Build);

/// <content>The shapes that the notation knows.</content>
public static partial class SectionNotation
{
    private static readonly Shape[] Shapes =
    [
        new(["round", "round bar", "rod", "bar"], "round 100 mm", ["od"], ["od"], [], s => SectionFactory.Round(s.Need("od"))),
        new(["square", "square bar"], "square 50 mm", ["width"], ["width"], [], s => SectionFactory.Rectangle(s.Need("width"), s.Need("width"))),
        new(
            ["rect", "rectangle", "flat", "flat bar", "plate"],
            "rect 100 x 50 mm",
            ["width", "height"],
            ["width", "height"],
            [],
            s => SectionFactory.Rectangle(s.Need("width"), s.Need("height"))),
        new(["tube", "round tube", "pipe", "chs"], "tube 4 in x 0.25 in wall", ["od", "wall"], ["od", "id", "wall"], [], Tube),
        new(
            ["rect tube", "rectangular tube", "rhs", "box"],
            "rect tube 100 x 60 x 5 mm wall, corner 10 mm",
            ["width", "height", "wall"],
            ["width", "height", "wall", "corner", "inner corner"],
            [],
            s => SectionFactory.RectangularTube(s.Need("width"), s.Need("height"), s.Need("wall"), s.Find("corner"), s.Find("inner corner"))),
        new(
            ["square tube", "shs"],
            "square tube 60 x 4 mm wall",
            ["width", "wall"],
            ["width", "wall", "corner", "inner corner"],
            [],
            s => SectionFactory.RectangularTube(s.Need("width"), s.Need("width"), s.Need("wall"), s.Find("corner"), s.Find("inner corner"))),
    ];

    private static Section Tube(NotationSizes sizes)
    {
        var outer = sizes.Need("od");
        if (sizes.Find("id") is not { } inner)
            return SectionFactory.RoundTube(outer, sizes.Need("wall"));
        if (inner >= outer)
            throw new SectionException($"inside diameter {SectionFactory.Mm(inner)} mm is not less than the outside diameter {SectionFactory.Mm(outer)} mm.");
        if (inner <= 0)
            throw new SectionException($"inside diameter {SectionFactory.Mm(inner)} mm is not above zero.");
        return SectionFactory.RoundTube(outer, (outer - inner) / 2);
    }
}
