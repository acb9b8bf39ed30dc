using SawEdge.Core.Notation;

namespace SawEdge.Core.Sections;

/// <summary>A section read from notation, or why there is none.</summary>
/// <param name="Section">The section; null where there are errors.</param>
/// <param name="Errors">Everything that is wrong, in the order of the text; empty where there is a section.</param>
public sealed record SectionParse(Section? Section, IReadOnlyList<NotationError> Errors)
{
    /// <summary>The errors in one sentence each, joined by spaces.</summary>
    public string Problem => string.Join(" ", Errors.Select(e => e.ToString()));
}

/// <summary>
/// Reads the short notation of the job list, which reads like what the trade writes: <c>round 100 mm</c>,
/// <c>tube 4 in x 0.25 in wall</c>, <c>rect 100 x 50 mm</c> (width x height as it lies), <c>hex 50 mm, point down</c>,
/// <c>i-section 300 x 150 x 7.1 x 10.7 mm, root 15 mm, web flat</c>, <c>polygon (0, 0) (80, 0) (40, 60) mm</c>,
/// <c>bundle 2 x 5 of round 30 mm</c> (rows x columns), or a standard's designation such as
/// <c>IPE 300, web flat</c>, <c>L 100x100x10</c>, <c>W12x26</c>, <c>HSS 6x4x1/4</c> (6 high as it lies) or <c>pipe 4 in sch 40</c>; each may end in <c>mitre 45 deg</c>, each profile in <c>turned 90 deg</c>.
/// Sizes are in mm, cm, m, in (") or ft ('); a size without a unit takes the next unit in the text. Fractions (1/4, 1-1/4) are understood.
/// </summary>
public static partial class SectionNotation
{
    /// <summary>The longest notation that is read, in characters.</summary>
    public const int LongestText = 4000;

    /// <summary>Reads one section.</summary>
    /// <param name="text">The notation.</param>
    public static SectionParse Parse(string text)
    {
        if (text.Length > LongestText)
            return Fail(LongestText, $"the text is longer than {LongestText} characters.");
        var errors = new List<NotationError>();
        var tokens = NotationTokens.Read(text, errors);
        if (errors.Count > 0)
            return new SectionParse(null, errors);
        return Read(text, tokens, isBar: false);
    }

    private static SectionParse Read(string text, List<Token> tokens, bool isBar)
    {
        var end = text.Length;
        if (tokens.Count == 0)
            return Fail(end, $"a section is missing; write for example '{Shapes[0].Example}'.");
        if (tokens[0].Kind == TokenKind.Word && tokens[0].Text == "bundle")
            return isBar ? Fail(tokens[0].Position, "a bundle of bundles; give the rows and columns of the whole.") : ReadBundle(text, tokens);
        if (tokens[0].Kind == TokenKind.Word && tokens[0].Text == "polygon")
            return NotationPolygon.Read(tokens, end);
        var start = tokens[0].Position;
        if (NotationDesignation.Find(text[start..], out var length, out var problem) is { } standard)
        {
            // Sizes of the designation are its own; only what follows it is orientation.
            var after = tokens.FindIndex(t => t.Position >= start + length);
            var orientation = new NotationSizes(standard, tokens, after < 0 ? tokens.Count : after, end);
            return orientation.Errors.Count > 0 ? new SectionParse(null, orientation.Errors) : Build(standard, orientation, start);
        }

        if (problem is not null)
            return Fail(start, problem);
        var (shape, used) = FindShape(tokens);
        if (shape is null)
            return Fail(tokens[0].Position, $"'{tokens[0].Text}' is no known shape; known are {string.Join(", ", Shapes.Select(s => s.Names[0]))}, polygon, bundle, and designations such as IPE 300, W12x26 or pipe 4 in sch 40.");
        var sizes = new NotationSizes(shape, tokens, used, end);
        return sizes.Errors.Count > 0 ? new SectionParse(null, sizes.Errors) : Build(shape, sizes, tokens[0].Position);
    }

    /// <summary>Reads <c>bundle ROWS x COLUMNS of SECTION</c>; a mitre at the end is that of the whole.</summary>
    private static SectionParse ReadBundle(string text, List<Token> tokens)
    {
        const string Example = "write for example 'bundle 2 x 5 of round 30 mm' (rows x columns).";
        if (tokens.Count < 4 || tokens[1].Kind != TokenKind.Number || tokens[2].Kind != TokenKind.Times || tokens[3].Kind != TokenKind.Number)
            return Fail(tokens.Count > 1 ? tokens[1].Position : text.Length, $"a bundle needs its rows and columns; {Example}");
        for (var i = 1; i <= 3; i += 2)
        {
            if (tokens[i].Value is not (>= 1 and <= SectionFactory.MostBars) || tokens[i].Value != Math.Floor(tokens[i].Value))
                return Fail(tokens[i].Position, $"'{tokens[i].Text}' is no number of bars from 1 to {SectionFactory.MostBars}; {Example}");
        }

        var from = tokens.Count > 4 && tokens[4].Kind == TokenKind.Word && tokens[4].Text == "of" ? 5 : 4;
        var bar = Read(text, tokens[from..], isBar: true);
        return bar.Section is null ? bar : Guard(tokens[1].Position, "bundle", () => SectionFactory.Bundle(bar.Section, (int)tokens[1].Value, (int)tokens[3].Value));
    }

    private static SectionParse Build(Shape shape, NotationSizes sizes, int position)
    {
        var parse = Guard(position, shape.Names[0], () => SectionFactory.Mitre(shape.Build(sizes), sizes.Find("mitre") ?? 0));
        return sizes.Errors.Count > 0 ? new SectionParse(null, sizes.Errors) : parse;
    }

    private static SectionParse Guard(int position, string name, Func<Section> build)
    {
        try
        {
            return new SectionParse(build(), []);
        }
        catch (SectionException wrong)
        {
            return Fail(position, $"{name}: {wrong.Message}");
        }
    }

    private static SectionParse Fail(int position, string message) => new(null, [new NotationError(position, message)]);

    /// <summary>The shape with the longest name that the text begins with.</summary>
    private static (Shape? Shape, int Used) FindShape(List<Token> tokens)
    {
        (Shape? Shape, int Used) found = (null, 0);
        foreach (var shape in Shapes)
        {
            foreach (var name in shape.Names)
            {
                var words = name.Split(' ');
                if (words.Length > found.Used && words.Length <= tokens.Count
                    && words.Index().All(w => tokens[w.Index].Kind == TokenKind.Word && tokens[w.Index].Text == w.Item))
                    found = (shape, words.Length);
            }
        }

        return found;
    }

    /// <summary>Reads <c>polygon (x, y) (x, y) ... mm</c>, with a mitre where one is wanted.</summary>
    private static class NotationPolygon
    {
        private const string Example = "write for example 'polygon (0, 0) (80, 0) (40, 60) mm'.";

        public static SectionParse Read(List<Token> tokens, int end)
        {
            var corners = new List<(double X, double Y)>();
            var at = 1;
            while (at < tokens.Count && tokens[at].Kind == TokenKind.Open)
            {
                var comma = at + 2 < tokens.Count && tokens[at + 2].Kind == TokenKind.Comma ? 1 : 0;
                if (at + 3 + comma >= tokens.Count || tokens[at + 1].Kind != TokenKind.Number || tokens[at + 2 + comma].Kind != TokenKind.Number || tokens[at + 3 + comma].Kind != TokenKind.Close)
                    return Fail(tokens[at].Position, $"a corner is written (x, y); {Example}");
                corners.Add((tokens[at + 1].Value, tokens[at + 2 + comma].Value));
                at += 4 + comma;
                if (at < tokens.Count && tokens[at].Kind == TokenKind.Comma)
                    at++;
            }

            if (at >= tokens.Count || tokens[at].Kind != TokenKind.Word || Lengths.MillimetresPer(tokens[at].Text) is not { } unit)
                return Fail(at < tokens.Count ? tokens[at].Position : end, $"a polygon ends in its unit; {Example}");
            var mitre = 0.0;
            at++;
            if (at < tokens.Count && tokens[at].Kind == TokenKind.Comma)
                at++;
            if (at + 1 < tokens.Count && tokens[at].Text is "mitre" or "miter" && tokens[at + 1].Kind == TokenKind.Number)
            {
                mitre = tokens[at + 1].Value;
                at += at + 2 < tokens.Count && tokens[at + 2].Text == "deg" ? 3 : 2;
            }

            if (at < tokens.Count)
                return Fail(tokens[at].Position, $"'{tokens[at].Text}' has no meaning after a polygon; {Example}");
            return Guard(tokens[0].Position, "polygon", () => SectionFactory.Mitre(SectionFactory.Polygon([.. corners.Select(c => (c.X * unit, c.Y * unit))]), mitre));
        }
    }
}
