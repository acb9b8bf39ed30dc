using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text.RegularExpressions;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>A text; further rules through a check.</summary>
/// <param name="kind">What it is, in words.</param>
/// <param name="example">A value as a person would write it.</param>
/// <param name="check">Says what is wrong with a text, without its path, or null where nothing is.</param>
internal sealed class TextType(string kind, string example, Func<string, string?>? check = null) : ConfigType<string>
{
    /// <summary>Regular expression for the schema; the check decides.</summary>
    public string? Pattern { get; init; }

    /// <summary>Longest text.</summary>
    public int MaximumLength { get; init; } = 1024;

    /// <summary>Whether it must never be shown.</summary>
    public bool IsSecret { get; init; }

    /// <summary>What it holds.</summary>
    public TextContent Holds { get; init; }

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out string value)
    {
        value = null;
        if (node.Kind is not (SourceKind.Text or SourceKind.Loose))
        {
            context.Findings.Error(path, $"is {node.KindInWords}; write a text in double quotes{(example.Length > 0 ? $", for example \"{example}\"" : "")}");
            return false;
        }

        var problem = node.Text.Trim().Length == 0 ? $"is empty; write a {kind}{(example.Length > 0 ? $", for example \"{example}\"" : "")}"
            : node.Text.Length > MaximumLength ? string.Create(CultureInfo.InvariantCulture, $"is {node.Text.Length} characters long; at most {MaximumLength} are possible")
            : node.Text.Any(char.IsControl) ? "holds a line end or another control character; leave it out"
            : check?.Invoke(node.Text);
        if (problem is not null)
        {
            context.Findings.Error(path, problem);
            return false;
        }

        value = node.Text;
        return true;
    }

    public override TypeDescription Describe() => new ScalarDescription
    {
        Kind = kind,
        Forms = [SourceKind.Text],
        Pattern = Pattern,
        MaximumLength = MaximumLength,
        Examples = example.Length > 0 ? [example] : [],
        IsSecret = IsSecret,
        Holds = Holds,
    };
}

/// <summary>A number, whole or not, within a range.</summary>
internal sealed class NumberType(bool whole, double minimum, double maximum, string example) : ConfigType<double>
{
    public override bool TryRead(SourceNode node, string path, ReadContext context, out double value)
    {
        value = 0;
        var word = whole ? "whole number" : "number";
        if (node.Kind is not (SourceKind.Number or SourceKind.Loose))
        {
            var quotes = node.Kind == SourceKind.Text ? " without quotes" : "";
            context.Findings.Error(path, $"is {node.KindInWords}; write a {word}{quotes}, for example {example}");
            return false;
        }

        if (!double.TryParse(node.Text, NumberStyles.Float, CultureInfo.InvariantCulture, out value) || !double.IsFinite(value) || (whole && value != Math.Floor(value)))
        {
            context.Findings.Error(path, $"{node.Shown} is no {word}; write for example {example}");
            return false;
        }

        if (value < minimum || value > maximum)
        {
            context.Findings.Error(path, $"{node.Shown} is out of range; {Range}");
            return false;
        }

        return true;
    }

    public override TypeDescription Describe() => new ScalarDescription
    {
        Kind = whole ? "whole number" : "number",
        Forms = [SourceKind.Number],
        Whole = whole,
        Minimum = double.IsFinite(minimum) ? minimum : null,
        Maximum = double.IsFinite(maximum) ? maximum : null,
        Range = double.IsFinite(minimum) || double.IsFinite(maximum) ? Range : null,
        Examples = [example],
    };

    private string Range => string.Create(CultureInfo.InvariantCulture, $"write {minimum:0.######} to {maximum:0.######}");
}

/// <summary>A whole number as an <see cref="int"/>.</summary>
internal sealed class IntegerType(int minimum, int maximum, string example) : ConfigType<int>
{
    private readonly NumberType _number = new(whole: true, minimum, maximum, example);

    public override bool TryRead(SourceNode node, string path, ReadContext context, out int value)
    {
        var good = _number.TryRead(node, path, context, out var number);
        value = good ? (int)number : 0;
        return good;
    }

    public override TypeDescription Describe() => _number.Describe();
}

/// <summary>true or false.</summary>
internal sealed class FlagType : ConfigType<bool>
{
    public override bool TryRead(SourceNode node, string path, ReadContext context, out bool value)
    {
        value = node.Text == "true";
        if (node.Kind is SourceKind.Flag or SourceKind.Loose && node.Text is "true" or "false")
            return true;
        context.Findings.Error(path, node.Kind == SourceKind.Loose ? $"{node.Shown} is no true or false; write true or false" : $"is {node.KindInWords}; write true or false, without quotes");
        return false;
    }

    public override TypeDescription Describe() => new ScalarDescription { Kind = "true or false", Forms = [SourceKind.Flag], Examples = ["true"] };
}

/// <summary>One of a few words.</summary>
internal sealed class ChoiceType<T>(params IReadOnlyList<(string Word, T Value, string Doc)> choices) : ConfigType<T>
{
    /// <summary>The words, as a message lists them.</summary>
    public string Words => Reading.Words.Or([.. choices.Select(choice => $"\"{choice.Word}\"")]);

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out T value)
    {
        var words = choices.Select(choice => choice.Word).ToList();
        value = default;
        if (node.Kind is SourceKind.Text or SourceKind.Loose or SourceKind.Number)
        {
            var index = words.IndexOf(node.Text);
            if (index >= 0)
            {
                value = choices[index].Value!;
                return true;
            }

            var near = words.Count > 4 && Reading.Words.Nearest(node.Text, words) is { } nearest ? $"did you mean \"{nearest}\"?" : $"write {Words}";
            context.Findings.Error(path, $"{node.Shown} is not known; {near}");
            return false;
        }

        context.Findings.Error(path, $"is {node.KindInWords}; write {Words}");
        return false;
    }

    public override TypeDescription Describe() => new ScalarDescription { Kind = "choice", Forms = [SourceKind.Text], Choices = [.. choices.Select(choice => (choice.Word, choice.Doc))] };
}

/// <summary>A value with a unit.</summary>
/// <typeparam name="T">What it becomes.</typeparam>
/// <param name="kind">The kind of quantity.</param>
/// <param name="from">Least value, as a person would write it.</param>
/// <param name="to">Greatest value.</param>
/// <param name="convert">From the kind's base unit to the result.</param>
internal sealed class QuantityType<T>(QuantityKind kind, string from, string to, Func<double, T> convert) : ConfigType<T>
{
    private readonly double _from = kind.Parse(from);
    private readonly double _to = kind.Parse(to);

    /// <summary>Values outside this range are possible but odd: a warning asks whether the unit is right.</summary>
    public (string From, string To)? Usual { get; init; }

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out T value)
    {
        value = default;
        if (!TryQuantity(node, path, kind, context, out var number, out _))
            return false;
        if (number < _from || number > _to)
        {
            context.Findings.Error(path, $"{node.Shown} is out of range; write {from} to {to}");
            return false;
        }

        if (Usual is { } usual && (number < kind.Parse(usual.From) || number > kind.Parse(usual.To)))
            context.Findings.Warning(path, $"{node.Shown} is unusual ({usual.From} to {usual.To} is common); is the unit right?");
        value = convert(number)!;
        return true;
    }

    public override TypeDescription Describe() => new ScalarDescription { Kind = kind.Name, Forms = [SourceKind.Text], Pattern = kind.Pattern, Range = $"{from} to {to}", Examples = kind.Examples };

    /// <summary>Reads a number with a unit from a node, whatever stands there.</summary>
    public static bool TryQuantity(SourceNode node, string path, QuantityKind kind, ReadContext context, out double value, [NotNullWhen(true)] out QuantityUnit? unit)
    {
        value = 0;
        unit = null;
        string? problem;
        switch (node.Kind)
        {
            case SourceKind.Text or SourceKind.Loose:
                if (kind.TryParse(node.Text, out value, out unit, out problem))
                    return true;
                break;
            case SourceKind.Number:
                problem = $"{node.Shown} has no unit; write for example \"{kind.Examples[0]}\" or \"{kind.Examples[1]}\"";
                break;
            default:
                problem = $"is {node.KindInWords}; write a {kind.Name}, for example \"{kind.Examples[0]}\" or \"{kind.Examples[1]}\"";
                break;
        }

        context.Findings.Error(path, problem);
        return false;
    }
}
