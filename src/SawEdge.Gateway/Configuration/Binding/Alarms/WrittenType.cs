using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>A value as it was written: what it means is known once the variable is known that it belongs to.</summary>
/// <param name="Node">The value.</param>
/// <param name="Path">Its path.</param>
/// <param name="Context">What reading needs.</param>
internal sealed record Written(SourceNode Node, string Path, ReadContext Context)
{
    /// <summary>Reads it as a number in a variable's unit; null where it cannot be, which is reported.</summary>
    public double? As(AlarmVariable variable) =>
        VariableUnits.TypeOf(variable).TryRead(Node, Path, Context, out var value) ? value : null;
}

/// <summary>A limit or a span of values: with a unit where its variable has one.</summary>
internal sealed class WrittenType : ConfigType<Written>
{
    private static readonly ScalarDescription Description = new() { Kind = "limit", Forms = [SourceKind.Text, SourceKind.Number], MaximumLength = 64, Examples = ["5.5 kW", "30 s"] };

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out Written value)
    {
        value = new Written(node, path, context);
        if (node.Kind is SourceKind.Text or SourceKind.Number or SourceKind.Loose)
            return true;
        value = null;
        context.Findings.Error(path, $"is {node.KindInWords}; write a number with the variable's unit, for example \"5.5 kW\" or \"30 s\", or the number alone where there is none");
        return false;
    }

    public override TypeDescription Describe() => Description;
}

/// <summary>What a flag or a text is compared with: true or false, a word or a list of words.</summary>
/// <param name="Flag">The flag, where one was written.</param>
/// <param name="Words">The words; empty where a flag was written.</param>
internal sealed record WrittenWords(bool? Flag, IReadOnlyList<Setting<string>> Words);

/// <summary>Reads <see cref="WrittenWords"/>.</summary>
internal sealed class WordsType : ConfigType<WrittenWords>
{
    private static readonly ConfigType<string> Word = ValueTypes.Text("aborted");
    private static readonly ListType<string> Several = new(Word, 1, "write a word, for example [ \"aborted\", \"interrupted\" ]");

    private static readonly EitherDescription Description = new(
        [new ScalarDescription { Kind = "true, false or a word", Forms = [SourceKind.Flag, SourceKind.Text], Examples = ["true"], MaximumLength = 1024 }, Several.Describe()]);

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out WrittenWords value)
    {
        if (node.Kind is SourceKind.Flag or SourceKind.Loose && node.Text is "true" or "false")
        {
            value = new WrittenWords(node.Text == "true", []);
            return true;
        }

        var words = node.Kind == SourceKind.List
            ? Several.TryRead(node, path, context, out var list) ? list : null
            : Word.TryRead(node, path, context, out var word) ? [new Setting<string>(word, path, true, true)] : null;
        value = words is null ? null : new WrittenWords(null, words);
        return value is not null;
    }

    public override TypeDescription Describe() => Description;
}

/// <summary>A text with names in braces.</summary>
internal sealed class TemplateType(string example, int maximumLength = 1024, TextContent holds = TextContent.Plain) : ConfigType<AlarmTemplate>
{
    private readonly TextType _text = new("text", example) { MaximumLength = maximumLength, Holds = holds };

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out AlarmTemplate value)
    {
        value = null;
        if (!_text.TryRead(node, path, context, out var text))
            return false;
        if (AlarmTemplate.TryParse(text, out value, out var problem))
            return true;
        context.Findings.Error(path, problem);
        return false;
    }

    public override TypeDescription Describe() => _text.Describe();
}
