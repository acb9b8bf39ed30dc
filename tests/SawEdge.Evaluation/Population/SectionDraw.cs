using System.Globalization;
using SawEdge.Core.Sections;
using SawEdge.Simulator.Randomness;

namespace SawEdge.Evaluation.Population;

/// <summary>Draws sections as shops of three kinds saw them: solid bars, profiles and tubes, or both.</summary>
internal static class SectionDraw
{
    private static readonly string[] Profiles = ["IPE 80", "IPE 100", "IPE 120", "IPE 160", "HEA 100", "HEA 120", "HEB 100", "HEB 120", "UPN 80", "UPN 100", "UPN 120"];

    public static Section Draw(Xoshiro256 random, int kindOfShop)
    {
        var solid = kindOfShop == 0 || (kindOfShop == 2 && random.Uniform() < 0.5);
        var text = solid ? Solid(random) : Hollow(random);
        return SectionNotation.Parse(text) is { Section: { } section } ? section : throw new InvalidOperationException($"{text}: {SectionNotation.Parse(text).Problem}");
    }

    private static string Solid(Xoshiro256 random) => random.Uniform(0, 5) switch
    {
        < 2 => Text($"round {Whole(random, 30, 140)} mm"),
        < 3 => Text($"rect {Whole(random, 40, 160)} x {Whole(random, 20, 100)} mm"),
        < 3.6 => Text($"square {Whole(random, 30, 110)} mm"),
        < 4.2 => Text($"hex {Whole(random, 30, 90)} mm"),
        < 4.6 => Text($"bundle {Whole(random, 1, 3)} x {Whole(random, 2, 4)} of round {Whole(random, 16, 35)} mm"),
        _ => Text($"rect {Whole(random, 100, 200)} x {Whole(random, 10, 25)} mm"),
    };

    private static string Hollow(Xoshiro256 random) => random.Uniform(0, 5) switch
    {
        < 1.2 => Text($"tube {Whole(random, 42, 170)} mm x {Whole(random, 3, 14)} mm wall"),
        < 2.4 => Text($"rect tube {Whole(random, 60, 180)} x {Whole(random, 40, 120)} x {Whole(random, 3, 8)} mm wall"),
        < 3.4 => Profile(random),
        < 4.2 => Text($"equal angle {Whole(random, 50, 120)} x {Whole(random, 5, 12)} mm"),
        _ => Text($"bundle {Whole(random, 1, 3)} x {Whole(random, 2, 4)} of rect tube {Whole(random, 30, 60)} x {Whole(random, 30, 40)} x {Whole(random, 3, 4)} mm wall"),
    };

    private static string Profile(Xoshiro256 random)
    {
        var profile = Profiles[Whole(random, 0, Profiles.Length - 1)];
        var flat = random.Uniform() < 0.5 && !profile.StartsWith("UPN", StringComparison.Ordinal);
        return flat ? profile + ", web flat" : profile;
    }

    private static int Whole(Xoshiro256 random, int from, int to) => from + (int)(random.Uniform() * (to - from + 1));

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
