using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding.Alarms;

/// <summary>A rule as it was written: what it holds for is resolved once saws, groups and the time zone are known.</summary>
/// <param name="Rule">The rule without subjects and hours; null where it cannot be used.</param>
/// <param name="Name">Its name.</param>
/// <param name="Variable">What it looks at.</param>
/// <param name="Saws">The saws it is to hold for.</param>
/// <param name="Groups">The groups it is to hold for.</param>
/// <param name="Names">The other subjects it is to hold for.</param>
/// <param name="Hours">When it is to hold.</param>
/// <param name="InShifts">Whether it is to hold only while a shift is at work.</param>
internal sealed record RuleDraft(
    AlarmRule? Rule,
    Setting<string> Name,
    Setting<AlarmVariable> Variable,
    Setting<IReadOnlyList<Setting<string>>?> Saws,
    Setting<IReadOnlyList<Setting<string>>?> Groups,
    Setting<IReadOnlyList<Setting<string>>?> Names,
    Setting<IReadOnlyList<Setting<WorkingSpan>>?> Hours,
    Setting<bool> InShifts);

/// <summary>Declares a rule.</summary>
internal static class RuleBinding
{
    /// <summary>The severities.</summary>
    public static readonly ChoiceType<AlarmSeverity> Severity = new(
        ("low", AlarmSeverity.Low, "to be looked at in the course of the work."),
        ("medium", AlarmSeverity.Medium, "to be looked at soon."),
        ("high", AlarmSeverity.High, "to be looked at now."));

    private static readonly ListType<SawStates> States = new(
        new ChoiceType<SawStates>(
            ("idle", SawStates.Idle, "between cycles."),
            ("cycle", SawStates.Cycle, "in a cycle."),
            ("stopped", SawStates.Stopped, "in a cycle that was stopped with the head in the stock."),
            ("cutting", SawStates.Cutting, "in the stock."),
            ("blade_running", SawStates.BladeRunning, "with the blade driven.")),
        1,
        "write states, for example [ \"cutting\" ], or leave it out: whatever the saw does");

    private static readonly ConfigType<TimeSpan> Delay = ValueTypes.Time("0 s", "24 h");
    private static readonly ListType<string> SawNames = Names("saw-1");
    private static readonly ListType<string> GroupNames = Names("bay-1");
    private static readonly ListType<string> SubjectNames = Names("saw-1-plc");

    private static readonly ObjectType<CutCount> Cuts = new("cuts", "How many of the latest cuts must meet the condition. Cuts of which nothing is known do not count.", BindCuts);

    /// <summary>One rule.</summary>
    public static ObjectType<RuleDraft> Type { get; } = new("rule", "One rule: when something deserves an alarm, and what the alarm says.", Bind);

    /// <summary>A list of names.</summary>
    public static ListType<string> Names(string example) => new(ValueTypes.Name(example), 1, $"write names, for example [ \"{example}\" ], or leave it out: all");

    private static RuleDraft Bind(ConfigObject o)
    {
        var name = o.Required("name", ValueTypes.Name("motor hot"), "Name, unique. A rule with the name of one of the program's own takes its place.");
        var severity = o.Default("severity", Severity, "medium", "How urgent.");
        var text = o.Optional("text", new TemplateType("{saw}: motor load {value}, limit {limit}"), "What the alarm says, with names in braces: rule, subject, saw, value, limit, severity and what belongs to the variable; a brace itself is written twice. Left out: the variable with its value and limit.");
        var mayBe = o.Optional("mayBe", ValueTypes.Text("The blade may be dull."), "What it may be. Left out: as the program's own rule about the same says, where there is one.");
        var caution = o.Optional("caution", CautionType.Instance, "What to be careful with. Left out: the usual words about stopping, isolating, locking out and tagging out, where the alarm sends a person to a saw. false: none.");
        var saws = o.Optional("saws", SawNames, "The saws that it holds for. Left out, as \"groups\": all.");
        var groups = o.Optional("groups", GroupNames, "The groups of saws that it holds for.");
        var hours = o.Optional("hours", HoursBinding.Type, "When it holds. Left out: always. Outside, its alarms are suppressed.");
        var inShifts = o.Default("inShifts", ValueTypes.Flag, "false", "Whether it holds only while a shift of the calendar is at work, from 15 minutes after its begin. Outside, its alarms are suppressed.");
        var latch = o.Default("latch", ValueTypes.Flag, "false", "Whether the alarm stays until somebody resets it, though the condition is gone.");
        var silences = o.Default("silences", ValueTypes.Flag, "false", "Whether the other alarms of its saw, of the saws behind its source, or of its destination, are suppressed while it is active: one cause, one message.");
        var core = o.Variants<Core>(
            "on",
            "What it looks at.",
            null,
            [
                new("signal", "A signal of a saw, frame by frame.", rule => BindSignal(rule)),
                new("finding", "A finding of the live watch, while the cut still runs.", rule => BindFinding(rule)),
                new("cycle", "A figure of a finished cycle.", rule => BindCut(rule, AlarmTopic.Cycle)),
                new("blade", "The wear of the blade and its forecast, after each cut.", rule => BindCut(rule, AlarmTopic.Blade)),
                new("oee", "A figure of the time and losses of a saw.", rule => BindOee(rule)),
                new("communication", "Whether data come.", rule => BindOther(rule, AlarmTopic.Communication)),
                new("gateway", "The gateway itself.", rule => BindOther(rule, AlarmTopic.Gateway)),
            ]);

        var variable = core?.Variable ?? default;
        if (variable is not { IsGood: true, Value: { } looked } || core is not { Test: { } test } || !name.IsGood || !text.IsGood)
            return new RuleDraft(null, name, variable, saws, groups, core?.Names ?? default, hours, inShifts);

        if (text.Value is { } template)
            KnownNames(o, text, template, looked);
        if (silences.Value && looked.Subject is not (AlarmSubjectKind.Saw or AlarmSubjectKind.Source or AlarmSubjectKind.Destination))
            o.Error(silences, $"{looked.Name} is about {AlarmResolution.About(looked.Subject)}, behind which there is nothing whose alarms could be silenced; leave it out");
        var rule = new AlarmRule
        {
            Name = name,
            Variable = looked,
            Test = test,
            OnDelay = core.OnDelay,
            OffDelay = core.OffDelay,
            Cuts = core.Cuts ?? CutCount.Each,
            Severity = severity,
            Text = text.Value ?? RuleTexts.Usual(looked, test),
            MayBe = mayBe.Value ?? RuleTexts.UsualMayBe(looked),
            Caution = caution.Value ?? RuleTexts.UsualCaution(looked),
            While = core.While,
            InShifts = inShifts,
            Latch = latch,
            Silences = silences,
            Over = core.Over,
        };
        return new RuleDraft(rule, name, variable, saws, groups, core.Names, hours, inShifts);
    }

    private static void KnownNames(ConfigObject o, Setting<AlarmTemplate?> text, AlarmTemplate template, AlarmVariable variable)
    {
        var known = AlarmFacts.NamesFor(variable).Where(name => name != "saw" || variable.Subject == AlarmSubjectKind.Saw).ToList();
        foreach (var name in template.Names.Where(name => !known.Contains(name)))
            o.Error(text, $"{{{name}}} is not known here; {Words.DidYouMean(name, known)}");
    }

    private static Core BindSignal(ConfigObject o)
    {
        var variable = Variable(o, AlarmTopic.Signal);
        var test = ConditionBinding.Bind(o, AlarmTopic.Signal, variable);
        var (on, off) = Delays(o);
        var states = o.Optional("while", States, "What the saw must be doing, one of these; part of the condition. Left out: whatever it does.");
        var all = states is { IsGood: true, Value: { } some } ? some.Aggregate(SawStates.None, (sum, state) => sum | state.Value) : SawStates.Any;
        return new Core(variable, test, on, off, null, all, null, default);
    }

    private static Core BindFinding(ConfigObject o)
    {
        var variable = Variable(o, AlarmTopic.Finding);
        var cuts = o.Optional("cuts", Cuts, "How many of the latest cuts must have it. Left out: each for itself.");
        return new Core(variable, new AlarmTest { Comparison = AlarmComparison.Is }, default, default, cuts, SawStates.Any, null, default);
    }

    private static Core BindCut(ConfigObject o, AlarmTopic topic)
    {
        var variable = Variable(o, topic);
        var test = ConditionBinding.Bind(o, topic, variable);
        var cuts = o.Optional("cuts", Cuts, "How many of the latest cuts must meet it. Left out: each for itself.");
        return new Core(variable, test, default, default, cuts, SawStates.Any, null, default);
    }

    private static Core BindOee(ConfigObject o)
    {
        var variable = Variable(o, AlarmTopic.Oee);
        var test = ConditionBinding.Bind(o, AlarmTopic.Oee, variable);
        var (on, off) = Delays(o);
        var over = o.OptionalValue("over", ValueTypes.Time("10 min", "744 h"), "The span that the figure is taken over. Left out: the shift so far.");
        return new Core(variable, test, on, off, null, SawStates.Any, over, default);
    }

    private static Core BindOther(ConfigObject o, AlarmTopic topic)
    {
        var variable = Variable(o, topic);
        var test = ConditionBinding.Bind(o, topic, variable);
        var (on, off) = Delays(o);
        var names = o.Optional("names", SubjectNames, topic == AlarmTopic.Communication ? "The devices and brokers that it holds for. Left out: all." : "The destinations or channels that it holds for. Left out: all.");
        return new Core(variable, test, on, off, null, SawStates.Any, null, names);
    }

    private static Setting<AlarmVariable> Variable(ConfigObject o, AlarmTopic topic) =>
        o.Required(
            topic.ToName(),
            new ChoiceType<AlarmVariable>([.. AlarmVariables.All.Where(variable => variable.Topic == topic).Select(variable => (variable.Name, variable, variable.Unit.Length > 0 ? $"{variable.Meaning} ({variable.Unit})." : $"{variable.Meaning}."))]),
            "What of it.");

    private static (TimeSpan On, TimeSpan Off) Delays(ConfigObject o) => (
        o.Default("onDelay", Delay, "0 s", "How long the condition must hold without a break before the alarm is raised."),
        o.Default("offDelay", Delay, "0 s", "How long it must be gone without a break before the alarm is cleared."));

    private static CutCount BindCuts(ConfigObject o)
    {
        var least = o.Required("least", new IntegerType(1, 100, "2"), "Cuts that must meet it.");
        var of = o.OptionalValue("of", new IntegerType(1, 100, "5"), "Among so many. Left out: as many, in a row.");
        var after = o.OptionalValue("clearAfter", new IntegerType(1, 100, "4"), "Cuts in a row that do not meet it, after which it counts as gone. Left out: so many that too few of the latest can still meet it.");
        var window = of.Value ?? Math.Max(1, least.Value);
        if (least.IsGood && of is { IsStated: true, IsGood: true } && least.Value > of.Value)
            o.Error(least, FormattableString.Invariant($"{least.Value} of {of.Value} cuts can never meet it; write at most {of.Value}"));
        return new CutCount(least, window, after.Value ?? Math.Max(1, window - least.Value + 1));
    }

    /// <summary>What differs by topic.</summary>
    private sealed record Core(Setting<AlarmVariable> Variable, AlarmTest? Test, TimeSpan OnDelay, TimeSpan OffDelay, CutCount? Cuts, SawStates While, TimeSpan? Over, Setting<IReadOnlyList<Setting<string>>?> Names);

    private sealed class CautionType : ConfigType<string>
    {
        public static readonly CautionType Instance = new();

        private readonly ConfigType<string> _text = ValueTypes.Text("Hot surfaces: let the motor cool down before touching it.");

        public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out string value)
        {
            value = "";
            if (node.Kind is SourceKind.Flag or SourceKind.Loose && node.Text == "false")
                return true;
            if (node.Kind != SourceKind.Flag)
                return _text.TryRead(node, path, context, out value);
            context.Findings.Error(path, "is true; write the words, leave it out for the usual ones, or write false for none");
            return false;
        }

        public override TypeDescription Describe() => (ScalarDescription)_text.Describe() with { Forms = [SourceKind.Text, SourceKind.Flag] };
    }
}
