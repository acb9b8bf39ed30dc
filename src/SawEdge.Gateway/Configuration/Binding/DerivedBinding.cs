using System.Globalization;
using System.Text.RegularExpressions;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>A derived flag as it was stated, before the saw's rated values are worked in.</summary>
internal sealed record DerivedDraft(IReadOnlyList<Setting<WrittenCondition>> When, TimeSpan OnDelay, TimeSpan OffDelay);

/// <summary>A condition as it was written.</summary>
internal sealed record WrittenCondition(SignalCondition Condition, Amount? Limit);

/// <summary>Declares the flags that follow from other signals.</summary>
internal static partial class DerivedBinding
{
    private static readonly ConfigType<TimeSpan> Delay = ValueTypes.Time("0 s", "1 h");

    private static readonly ObjectType<DerivedDraft> Flag = new("derivedFlag", "A flag that follows from other signals of the saw.", o => new DerivedDraft(
        o.Required("when", new ListType<WrittenCondition>(new ConditionText(), 1, "write at least one condition, for example [ \"blade_running\", \"motor_load above 1.2 kW\" ]"), "Conditions that must all hold: a flag's name, with \"not\" in front of it for its opposite; a number's name with \"above\" or \"below\" and a value with its unit; a text's name with \"is\" or \"is not\" and the text.").Value ?? [],
        o.Default("onDelay", Delay, "0 s", "How long the conditions must hold before the flag is set."),
        o.Default("offDelay", Delay, "0 s", "How long they must not hold before it is taken back.")));

    /// <summary>All flags that can be derived.</summary>
    public static ObjectType<IReadOnlyList<(SignalInfo Info, Setting<DerivedDraft?> Draft)>> Type { get; } = new("derived", "Flags that the controller does not tell and that follow from what it does tell.", o =>
        [.. SignalInfo.All.Where(info => info.Kind == SignalKind.Flag).Select(info => (info, o.Optional(info.Name, Flag, $"When {Meaning(info)}.")))]);

    /// <summary>Works rated values in.</summary>
    /// <param name="o">The saw.</param>
    /// <param name="drafts">What was stated.</param>
    /// <param name="drive">What is known of the saw's drive.</param>
    public static IReadOnlyList<DerivedFlagRule> Resolve(ConfigObject o, IReadOnlyList<(SignalInfo Info, Setting<DerivedDraft?> Draft)>? drafts, DriveRating drive)
    {
        var rules = new List<DerivedFlagRule>();
        foreach (var (info, setting) in drafts ?? [])
        {
            if (setting is not { IsGood: true, Value: { } draft })
                continue;
            var conditions = new List<SignalCondition>();
            foreach (var written in draft.When)
            {
                var limit = written.Value!.Limit is { } amount ? drive.Resolve(o, written, amount) : written.Value.Condition.Limit;
                if (written.Value.Condition.Signal == info.Signal)
                    o.Error(written, $"{info.Name} cannot follow from itself");
                else if (limit is { } resolved)
                    conditions.Add(written.Value.Condition with { Limit = resolved });
            }

            if (conditions.Count == draft.When.Count && conditions.Count > 0)
                rules.Add(new DerivedFlagRule(info.Signal, conditions, draft.OnDelay, draft.OffDelay));
        }

        return rules;
    }

    private static string Meaning(SignalInfo info) => info.Meaning;

    /// <summary>Reads a condition.</summary>
    private sealed partial class ConditionText : ConfigType<WrittenCondition>
    {
        private const string Right = "write for example \"blade_running\", \"not blade_running\", \"motor_load above 1.2 kW\" or \"mode is automatic\"";

        public override bool TryRead(SourceNode node, string path, ReadContext context, [System.Diagnostics.CodeAnalysis.MaybeNullWhen(false)] out WrittenCondition value)
        {
            value = null;
            var problem = node.Kind is SourceKind.Text or SourceKind.Loose ? Parse(node.Text.Trim(), out value) : $"is {node.KindInWords}; {Right}";
            if (problem is null)
                return value is not null;
            context.Findings.Error(path, problem);
            return false;
        }

        public override TypeDescription Describe() => new ScalarDescription { Kind = "condition", Forms = [SourceKind.Text], Examples = ["blade_running", "not blade_running", "motor_load above 1.2 kW", "mode is automatic"] };

        private static string? Parse(string text, out WrittenCondition? condition)
        {
            condition = null;
            var match = Form().Match(text);
            if (!match.Success)
                return $"{Words.Quoted(text)} is no condition; {Right}";
            var name = match.Groups["signal"].Value;
            if (!SignalInfo.TryFind(name, out var info))
                return $"{Words.Quoted(name)} is no signal; {Words.DidYouMean(name, [.. SignalInfo.All.Select(known => known.Name)])}";
            var not = match.Groups["not"].Success;
            var word = match.Groups["word"].Value;
            var rest = match.Groups["rest"].Value;
            return (info.Kind, word) switch
            {
                (SignalKind.Flag, "") => Take(new(info.Signal, not ? ConditionKind.IsNotSet : ConditionKind.IsSet), null, out condition),
                (SignalKind.Flag, _) => $"{name} is a yes or no; write \"{name}\" or \"not {name}\"",
                _ when not => $"\"not\" goes with a yes or no; {Right}",
                (SignalKind.Text, "is" or "is not") => Take(new(info.Signal, word == "is" ? ConditionKind.Is : ConditionKind.IsNot, 0, rest), null, out condition),
                (SignalKind.Text, _) => $"{name} is a text; write \"{name} is ...\" or \"{name} is not ...\"",
                (SignalKind.Integer, "") or (SignalKind.Number, "" or "is" or "is not") => $"{name} is a number; write \"{name} above ...\" or \"{name} below ...\"",
                (SignalKind.Integer, _) => double.TryParse(rest, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var whole)
                    ? Take(new(info.Signal, KindOf(word), whole), null, out condition)
                    : $"{Words.Quoted(rest)} is no whole number; write for example \"{name} {word} 0\"",
                _ => OfNumber(info, word, rest, out condition),
            };
        }

        private static string? OfNumber(SignalInfo info, string word, string rest, out WrittenCondition? condition)
        {
            condition = null;
            var kind = info.Unit switch { "mm" => QuantityKind.Length, "kW" => QuantityKind.MotorLoad, _ => QuantityKind.BladeSpeed };
            return kind.TryParse(rest, out var value, out var unit, out var problem)
                ? Take(new(info.Signal, KindOf(word)), new Amount(value, unit.RelativeTo), out condition)
                : problem;
        }

        private static ConditionKind KindOf(string word) => word switch
        {
            "above" => ConditionKind.Above,
            "below" => ConditionKind.Below,
            "is" => ConditionKind.Is,
            _ => ConditionKind.IsNot,
        };

        private static string? Take(SignalCondition condition, Amount? limit, out WrittenCondition? written)
        {
            written = new WrittenCondition(condition, limit);
            return null;
        }

        [GeneratedRegex("^(?<not>not +)?(?<signal>[A-Za-z_]+)(?: +(?<word>above|below|is not|is) +(?<rest>.+))?$")]
        private static partial Regex Form();
    }
}
