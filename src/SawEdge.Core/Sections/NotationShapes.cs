namespace SawEdge.Core.Sections;

/// <summary>How one shape is written.</summary>
/// <param name="Names">What it may be called; the first is the one the messages use.</param>
/// <param name="Example">How it is written, shown in messages.</param>
/// <param name="Places">The labels of its sizes in the order in which they are written without labels.</param>
/// <param name="Labels">Labels it takes besides those of its places.</param>
/// <param name="Words">Words of orientation it takes.</param>
/// <param name="Build">Builds it.</param>
internal sealed record Shape(string[] Names, string Example, string[] Places, string[] Labels, string[] Words, Func<NotationSizes, Section> Build)
{
    /// <summary>Every label it takes.</summary>
    public string[] Labels { get; } = [.. Places, .. Labels];

    /// <summary>Whether it may be turned by an angle: whatever has words of orientation may.</summary>
    public bool Turns => Words.Length > 0 && !Words.Contains("hot finished");
}

/// <content>The shapes that the notation knows.</content>
public static partial class SectionNotation
{
    private static readonly string[] ProfilePlaces = ["height", "width", "web", "flange"];

    private static readonly string[] Finishes = ["hot finished", "cold formed"];

    private static readonly Shape[] Shapes =
    [
        new(["round", "round bar", "rod", "bar"], "round 100 mm", ["od"], [], [], s => SectionFactory.Round(s.Need("od"))),
        new(["square", "square bar"], "square 50 mm", ["width"], [], [], s => SectionFactory.Rectangle(s.Need("width"), s.Need("width"))),
        new(
            ["rect", "rectangle", "flat", "flat bar", "plate"],
            "rect 100 x 50 mm",
            ["width", "height"],
            [],
            [],
            s => SectionFactory.Rectangle(s.Need("width"), s.Need("height"))),
        new(
            ["hex", "hexagon", "hex bar"],
            "hex 50 mm, point down",
            ["across flats"],
            [],
            ["flat down", "point down", "flat", "point"],
            s => SectionFactory.Hexagon(s.Need("across flats"), s.Turn(("point down", 30), ("point", 30)))),
        new(["tube", "round tube", "pipe", "chs"], "tube 4 in x 0.25 in wall", ["od", "wall"], ["id"], [], Tube),
        new(
            ["rect tube", "rectangular tube", "rhs", "box"],
            "rect tube 100 x 60 x 5 mm wall, corner 10 mm",
            ["width", "height", "wall"],
            ["corner", "inner corner"],
            Finishes,
            s => HollowBox(s, s.Need("width"), s.Need("height"))),
        new(
            ["square tube", "shs"],
            "square tube 60 x 4 mm wall",
            ["width", "wall"],
            ["corner", "inner corner"],
            Finishes,
            s => HollowBox(s, s.Need("width"), s.Need("width"))),
        new(["angle", "l-section"], "angle 100 x 75 x 8 mm, root 10 mm, toe 5 mm, heel up", ["height", "width", "thickness"], ["root", "toe"], ["heel up", "heel down"], Angle),
        new(
            ["equal angle"],
            "equal angle 60 x 6 mm, root 8 mm, toe 4 mm",
            ["height", "thickness"],
            ["root", "toe"],
            ["heel up", "heel down"],
            Angle),
        new(
            ["channel", "u-section", "c-section"],
            "channel 200 x 75 x 8.5 x 11.5 mm, root 11.5 mm, toe 6 mm, taper 8 %, toes down",
            ProfilePlaces,
            ["root", "toe", "taper", "flange at"],
            ["toes up", "toes down", "web vertical"],
            s => SectionFactory.Channel(
                s.Need("height"), s.Need("width"), s.Need("web"), s.Need("flange"), s.Find("root") ?? 0, s.Find("toe") ?? 0, s.Find("taper") ?? 0, s.Find("flange at"), s.Turn(("toes up", 90), ("toes down", 270)))),
        new(
            ["i-section", "i-beam", "h-section", "h-beam", "beam"],
            "i-section 300 x 150 x 7.1 x 10.7 mm, root 15 mm, web flat",
            ProfilePlaces,
            ["root"],
            ["web flat", "web vertical"],
            s => SectionFactory.Beam(s.Need("height"), s.Need("width"), s.Need("web"), s.Need("flange"), s.Find("root") ?? 0, s.Turn(("web flat", 90)))),
        new(
            ["tee", "t-section"],
            "tee 100 x 100 x 8 x 12 mm, root 8 mm, stem up",
            ProfilePlaces,
            ["root"],
            ["stem up", "stem down"],
            s => SectionFactory.Tee(s.Need("height"), s.Need("width"), s.Need("web"), s.Need("flange"), s.Find("root") ?? 0, s.Turn(("stem up", 180)))),
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

    private static Section HollowBox(NotationSizes sizes, double width, double height)
    {
        var wall = sizes.Need("wall");
        var (outer, inner) = sizes.Says("hot finished") ? SectionFactory.HotFinishedCorners(wall) : SectionFactory.ColdFormedCorners(wall);
        if (sizes.Find("corner") is { } given)
            return SectionFactory.RectangularTube(width, height, wall, given, sizes.Find("inner corner"));
        var half = Math.Min(width, height) / 2;
        return SectionFactory.RectangularTube(width, height, wall, Math.Min(outer, half), sizes.Find("inner corner") ?? Math.Clamp(inner, 0, Math.Max(0, half - wall)));
    }

    private static Section Angle(NotationSizes sizes)
    {
        var height = sizes.Need("height");
        return SectionFactory.Angle(
            height, sizes.Find("width") ?? height, sizes.Need("thickness"), sizes.Find("root") ?? 0, sizes.Find("toe") ?? 0, sizes.Turn(("heel up", 225), ("heel down", 45)));
    }
}
