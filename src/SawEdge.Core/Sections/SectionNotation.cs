namespace SawEdge.Core.Sections;

/// <summary>What is wrong with a notation.</summary>
/// <param name="Position">Where, as a 0-based place in the text.</param>
/// <param name="Message">What is wrong and what would be right.</param>
public readonly record struct NotationError(int Position, string Message)
{
    /// <inheritdoc/>
    public override string ToString() => $"at character {Position + 1}: {Message}";
}

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
/// <c>tube 4 in x 0.25 in wall</c>, <c>rect 100 x 50 mm</c> (width x height as it lies), <c>rect tube 100 x 60 x 5 mm corner 10 mm</c>.
/// Sizes are in mm, cm, m, in (") or ft ('); a size without a unit takes the next unit in the text. Fractions (1/4, 1-1/4) are understood.
/// </summary>
public static partial class SectionNotation
{
    /// <summary>Reads one section.</summary>
    /// <param name="text">The notation.</param>
    public static SectionParse Parse(string text)
    {
        var errors = new List<NotationError>();
        var tokens = NotationTokens.Read(text, errors);
        if (errors.Count > 0)
            return new SectionParse(null, errors);
        if (tokens.Count == 0)
            return Fail(0, $"a section is missing; write for example '{Shapes[0].Example}'.");
        return Read(tokens, text.Length);
    }

    private static SectionParse Read(List<Token> tokens, int end)
    {
        var (shape, used) = FindShape(tokens);
        if (shape is null)
            return Fail(tokens[0].Position, $"'{tokens[0].Text}' is no known shape; known are {string.Join(", ", Shapes.Select(s => s.Names[0]))}.");
        var sizes = new NotationSizes(shape, tokens, used, end);
        return sizes.Errors.Count > 0 ? new SectionParse(null, sizes.Errors) : Build(shape, sizes, tokens[0].Position);
    }

    private static SectionParse Build(Shape shape, NotationSizes sizes, int position)
    {
        try
        {
            var section = shape.Build(sizes);
            return sizes.Errors.Count > 0 ? new SectionParse(null, sizes.Errors) : new SectionParse(section, []);
        }
        catch (SectionException wrong)
        {
            return sizes.Errors.Count > 0 ? new SectionParse(null, sizes.Errors) : Fail(position, $"{shape.Names[0]}: {wrong.Message}");
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
}
