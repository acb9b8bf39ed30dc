using System.Text.RegularExpressions;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Sections;

/// <summary>Recognises a standard designation at the beginning of a notation and makes a shape of it that takes only orientation.</summary>
internal static partial class NotationDesignation
{
    private static readonly Dictionary<string, (string Words, double Degrees)[]> Orientations = new(StringComparer.Ordinal)
    {
        ["beam"] = [("web vertical", 0), ("web flat", 90)],
        ["channel"] = [("web vertical", 0), ("toes up", 90), ("toes down", 270)],
        ["angle"] = [("heel up", 225), ("heel down", 45)],
        ["tube"] = [],
    };

    /// <summary>Looks for a designation.</summary>
    /// <param name="text">The notation, from where the designation should begin.</param>
    /// <param name="length">How much of it is the designation.</param>
    /// <param name="problem">Why what looks like a designation is none; null where nothing is wrong.</param>
    /// <returns>The shape; null where the text begins with no designation.</returns>
    public static Shape? Find(string text, out int length, out string? problem)
    {
        problem = null;
        var end = EndOfDesignation().Match(text);
        length = end.Success ? end.Index : text.Length;
        var written = text[..length].Trim();
        if (StandardSections.Find(written) is { } standard)
            return Make(standard.Name, standard.Family, standard.Build);
        if (Hollow().Match(written) is { Success: true } hollow)
            return HollowShape(hollow, out problem);
        var pipe = Pipe().Match(text);
        if (pipe.Success)
        {
            length = pipe.Length;
            return PipeShape(pipe, out problem);
        }

        if (LooksStandard().IsMatch(written))
            problem = $"'{written}' is in none of the tables (EN 10365, EN 10056-1, ASTM A6); the nearest are {string.Join(", ", StandardSections.Nearest(written, 3))}.";
        return null;
    }

    private static Shape Make(string name, string family, Func<double, Section> build)
    {
        var orientations = Orientations[family];
        return new Shape([name], name, [], [], [.. orientations.Select(o => o.Words)], sizes =>
        {
            var turn = sizes.Turn(orientations);
            var section = build(turn);
            return section is OutlineSection outline ? outline.Named(name + SectionFactory.Turned(turn, [.. orientations.Select(o => (o.Degrees, o.Words)).Where(o => o.Degrees != 0)])) : section;
        });
    }

    /// <summary>HSS by its three or two sizes in inches; the nominal wall is what the saw cuts.</summary>
    private static Shape? HollowShape(Match match, out string? problem)
    {
        problem = null;
        var sizes = new List<double>();
        foreach (var part in match.Groups["size"].Captures.Select(c => c.Value))
        {
            var tokens = NotationTokens.Read(part, []);
            if (tokens is not [{ Kind: TokenKind.Number } number])
            {
                problem = $"'{part}' is no size in inches; write for example 'HSS 6x4x1/4'.";
                return null;
            }

            sizes.Add(number.Value * Lengths.MmPerInch);
        }

        var name = "HSS " + string.Join('x', match.Groups["size"].Captures.Select(c => c.Value.Trim()));
        return Make(name, "tube", _ => sizes.Count == 2
            ? SectionFactory.RoundTube(sizes[0], sizes[1])
            : SectionFactory.RectangularTube(sizes[1], sizes[0], sizes[2], 2 * sizes[2], sizes[2]));
    }

    private static Shape? PipeShape(Match match, out string? problem)
    {
        var nps = match.Groups["nps"].Value.Trim().Replace(' ', '-');
        nps = nps switch { "1.5" => "1-1/2", "2.5" => "2-1/2", "1.25" => "1-1/4", "3.5" => "3-1/2", "0.5" or ".5" => "1/2", "0.75" or ".75" => "3/4", _ => nps };
        var schedule = match.Groups["schedule"].Value.ToUpperInvariant();
        problem = null;
        if (StandardSections.Pipe(nps, schedule) is { } pipe)
            return Make($"pipe {nps} in {(char.IsAsciiDigit(schedule[0]) ? "sch " : "")}{schedule}", "tube", _ => SectionFactory.RoundTube(pipe.OdMm, pipe.WallMm));
        var known = StandardSections.Schedules(nps);
        problem = known.Count == 0
            ? $"nominal pipe size {nps} is not in the tables of ASME B36.10M and B36.19M (1/8 to 48)."
            : $"nominal pipe size {nps} has no schedule {schedule} in the tables; it has {string.Join(", ", known)}.";
        return null;
    }

    [GeneratedRegex(@"\s*(,|;|\b(web|toes|heel|stem|turned|mitre|miter)\b)", RegexOptions.IgnoreCase)]
    private static partial Regex EndOfDesignation();

    [GeneratedRegex(@"^HSS\s*(?<size>[^xX×]+?)\s*([xX×]\s*(?<size>[^xX×]+?)\s*){1,2}$", RegexOptions.IgnoreCase)]
    private static partial Regex Hollow();

    [GeneratedRegex(@"^(pipe\s+|NPS\s*)(NPS\s*)?(?<nps>\d+[- ]\d+/\d+|\d+/\d+|\d*\.?\d+)\s*(in\b\.?|inch\b|"")?\s*,?\s*((sch(edule)?\b?\.?\s*)(?<schedule>\d+S?|STD|XXS|XS)|(?<schedule>STD|XXS|XS))\b", RegexOptions.IgnoreCase)]
    private static partial Regex Pipe();

    [GeneratedRegex(@"^(IPE|HE[ABM]?|HD|UB|UC|UPE|UPN|W|MC|C|L)\s*\d", RegexOptions.IgnoreCase)]
    private static partial Regex LooksStandard();
}
