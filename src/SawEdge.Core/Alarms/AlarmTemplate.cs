using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Core.Alarms;

/// <summary>Writes a number with its unit as the plant reads it.</summary>
/// <param name="value">The number.</param>
/// <param name="unit">Its unit as in the data contract; <c>share</c> for parts of 1.</param>
public delegate string QuantityText(double value, string unit);

/// <summary>
/// The text of an alarm with names in braces, for example <c>{saw}: motor load {value}, limit {limit}</c>; a brace itself is written
/// twice. A name that is not known in an occurrence is shown as "not known".
/// </summary>
public sealed class AlarmTemplate
{
    private readonly IReadOnlyList<(string Literal, string? Name)> _parts;

    private AlarmTemplate(string source, IReadOnlyList<(string Literal, string? Name)> parts)
    {
        Source = source;
        _parts = parts;
    }

    /// <summary>The text as it was written.</summary>
    public string Source { get; }

    /// <summary>The names in it, each once, in order.</summary>
    public IReadOnlyList<string> Names => [.. _parts.Select(part => part.Name).OfType<string>().Distinct(StringComparer.Ordinal)];

    /// <summary>Reads a template.</summary>
    /// <param name="source">What a person wrote.</param>
    /// <param name="template">The template.</param>
    /// <param name="problem">What is wrong and what would be right.</param>
    /// <returns>Whether it could be read.</returns>
    public static bool TryParse(string source, [NotNullWhen(true)] out AlarmTemplate? template, [NotNullWhen(false)] out string? problem)
    {
        template = null;
        problem = null;
        var parts = new List<(string, string?)>();
        var literal = new System.Text.StringBuilder();
        for (var i = 0; i < source.Length; i++)
        {
            var c = source[i];
            if (c is not ('{' or '}'))
            {
                literal.Append(c);
            }
            else if (i + 1 < source.Length && source[i + 1] == c)
            {
                literal.Append(c);
                i++;
            }
            else
            {
                var end = c == '{' ? source.IndexOf('}', i) : -1;
                var name = end < 0 ? "" : source[(i + 1)..end].Trim();
                if (name.Length == 0 || !name.All(letter => char.IsAsciiLetterOrDigit(letter) || letter == '_'))
                {
                    problem = c == '}' ? $"has a }} at character {i + 1} that closes nothing; write }}}} for a brace"
                        : end < 0 ? $"has a {{ at character {i + 1} that is not closed; write {{{{ for a brace"
                        : $"has no name between the braces at character {i + 1}; write for example {{value}}, or {{{{ for a brace";
                    return false;
                }

                parts.Add((literal.ToString(), name));
                literal.Clear();
                i = end;
            }
        }

        parts.Add((literal.ToString(), null));
        template = new AlarmTemplate(source, parts);
        return true;
    }

    /// <summary>Reads a template of the program's own.</summary>
    /// <exception cref="FormatException">It cannot be read.</exception>
    public static AlarmTemplate Parse(string source) => TryParse(source, out var template, out var problem) ? template : throw new FormatException($"'{source}' {problem}.");

    /// <summary>Writes the text.</summary>
    /// <param name="facts">The values by name.</param>
    /// <param name="quantity">Writes numbers with their units.</param>
    public string Fill(IReadOnlyDictionary<string, AlarmFact> facts, QuantityText quantity) => string.Concat(_parts.Select(part =>
    {
        if (part.Name is null)
            return part.Literal;
        var value = !facts.TryGetValue(part.Name, out var fact) ? "not known"
            : fact.Text ?? (double.IsFinite(fact.Value) ? quantity(fact.Value, fact.Unit) : "not known");
        return part.Literal + value;
    }));

    /// <inheritdoc/>
    public override string ToString() => Source;

    /// <inheritdoc/>
    public override bool Equals(object? obj) => obj is AlarmTemplate other && other.Source == Source;

    /// <inheritdoc/>
    public override int GetHashCode() => Source.GetHashCode(StringComparison.Ordinal);
}
