using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>What a value means that comes as a number, a yes or no, or a text: the members are the same whatever the source.</summary>
internal static class ValueMembers
{
    private static readonly ConfigType<IReadOnlyList<Setting<string>>> YesValues = new ListType<string>(new RawValueType(), 1, "write the raw values that mean yes, for example [ \"CUT\", 3 ]");

    /// <summary>Declares them.</summary>
    /// <param name="o">The signal's object.</param>
    /// <param name="info">The signal.</param>
    /// <param name="mapping">The signal's place, which takes the rest.</param>
    /// <returns>The mapping; for a measured number without conversion and limits, which follow from the second.</returns>
    public static (T Mapping, SignalConversion? Conversion) Bind<T>(ConfigObject o, SignalInfo info, T mapping)
        where T : ValueMapping
    {
        switch (info.Kind)
        {
            case SignalKind.Number:
                return (mapping, SignalConversion.Bind(o, info));
            case SignalKind.Integer:
                var (minimum, maximum) = WholeLimits.Bind(o);
                return (mapping with { Minimum = minimum, Maximum = maximum }, null);
            case SignalKind.Flag:
                var values = o.Optional("values", YesValues, "The raw values that mean yes, as they are written, where the flag comes as a state; any other means no.");
                var invert = o.Default("invert", ValueTypes.Flag, "false", "Whether yes and no are turned round.");
                return (mapping with { Values = values.Value is { } yes ? [.. yes.Where(value => value.IsGood).Select(value => value.Value)] : null, Invert = invert }, null);
            default:
                var texts = o.Optional("texts", new TextMapType<string>(SignalTexts.For(info)), "What the raw values stand for, as they are written. A value without a text makes the signal invalid. Left out: what comes is the text.");
                return (mapping with { Texts = texts.Value }, null);
        }
    }

    /// <summary>Works a conversion in.</summary>
    /// <param name="o">The saw.</param>
    /// <param name="mapping">The mapping.</param>
    /// <param name="conversion">Its conversion, or null.</param>
    /// <param name="drive">What is known of the saw's drive.</param>
    public static T Resolve<T>(ConfigObject o, T mapping, SignalConversion? conversion, DriveRating drive)
        where T : ValueMapping
    {
        if (conversion is null)
            return mapping;
        var (way, minimum, maximum) = conversion.Resolve(o, drive);
        return mapping with { Conversion = way, Minimum = minimum, Maximum = maximum };
    }

    /// <summary>A raw value: a text, or a number or flag as it is written.</summary>
    private sealed class RawValueType : ConfigType<string>
    {
        public override bool TryRead(SourceNode node, string path, ReadContext context, [System.Diagnostics.CodeAnalysis.MaybeNullWhen(false)] out string value)
        {
            value = node.Text;
            if (node.Kind is SourceKind.Text or SourceKind.Number or SourceKind.Flag or SourceKind.Loose && value.Length > 0)
                return true;
            context.Findings.Error(path, $"is {node.KindInWords}; write the raw value as the controller sends it, for example \"CUT\" or 3");
            return false;
        }

        public override TypeDescription Describe() => new EitherDescription(
        [
            new ScalarDescription { Kind = "text", Forms = [SourceKind.Text], Examples = ["CUT"] },
            new ScalarDescription { Kind = "number", Forms = [SourceKind.Number] },
            new ScalarDescription { Kind = "yes or no", Forms = [SourceKind.Flag] },
        ]);
    }
}
