using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>A rule in words: what must be so for its alarm to come and to go, with units.</summary>
internal static class RuleWords
{
    private static readonly (SawStates State, string Word)[] States =
    [
        (SawStates.Idle, "idle"), (SawStates.Cycle, "in a cycle"), (SawStates.Stopped, "stopped in a cut"), (SawStates.Cutting, "cutting"), (SawStates.BladeRunning, "driving its blade"),
    ];

    private static readonly DayOfWeek[] Week =
        [DayOfWeek.Monday, DayOfWeek.Tuesday, DayOfWeek.Wednesday, DayOfWeek.Thursday, DayOfWeek.Friday, DayOfWeek.Saturday, DayOfWeek.Sunday];

    /// <summary>The condition, for example <c>motor load above 5.5 kW for 30 s while the saw is cutting</c>.</summary>
    /// <param name="rule">The rule.</param>
    /// <param name="units">Units to print in.</param>
    public static string Condition(AlarmRule rule, DisplayUnits units)
    {
        var words = Test(rule, units);

        // The meaning of a yes or no is a sentence of its own.
        var next = rule.Variable.Kind == AlarmValueKind.Flag ? ", " : " ";
        if (rule.Variable.Topic == AlarmTopic.Oee)
            words += rule.Over is { } over ? $" over the last {Span(over)}" : " over the shift so far";
        if (rule.OnDelay > TimeSpan.Zero)
            words += $"{next}for {Span(rule.OnDelay)}";
        if (rule.Cuts.Of > 1)
            words += rule.Cuts.Least == rule.Cuts.Of ? Text($"{next}in {rule.Cuts.Of} cuts in a row") : Text($"{next}in {rule.Cuts.Least} of the last {rule.Cuts.Of} cuts");
        if (rule.While is not (SawStates.Any or SawStates.None))
            words += $"{next}while the saw is {string.Join(" or ", States.Where(state => rule.While.HasFlag(state.State)).Select(state => state.Word))}";
        return words;
    }

    /// <summary>When the condition counts as gone, where that is more than its contrary; otherwise null.</summary>
    /// <inheritdoc cref="Condition"/>
    public static string? Gone(AlarmRule rule, DisplayUnits units)
    {
        var parts = new List<string>();
        if (rule.Variable.Kind == AlarmValueKind.Number && double.IsFinite(rule.Test.ClearLimit) && rule.Test.ClearLimit != rule.Test.Limit)
            parts.Add($"{(rule.Test.Comparison == AlarmComparison.Above ? "below" : "above")} {Quantity(rule, rule.Test.ClearLimit, units)}");
        if (rule.OffDelay > TimeSpan.Zero)
            parts.Add($"for {Span(rule.OffDelay)}");
        if (rule.Cuts.ClearAfter > 1)
            parts.Add(Text($"in {rule.Cuts.ClearAfter} cuts in a row"));
        return parts.Count == 0 ? null : string.Join(' ', parts);
    }

    /// <summary>What else holds for it, part by part: subjects, hours, latch, silencing.</summary>
    public static IReadOnlyList<string> Rest(AlarmRule rule)
    {
        var parts = new List<string>();
        if (rule.Subjects is { } subjects)
            parts.Add($"only {List([.. subjects.Order(StringComparer.Ordinal)], "and")}");
        if (rule.Hours is { } hours)
            parts.Add($"only {Hours(hours)}");
        if (rule.InShifts)
            parts.Add("only while a shift of the calendar is at work, where there is one");
        if (rule.Latch)
            parts.Add("stays until somebody resets it");
        if (rule.Silences)
            parts.Add(rule.Variable.Subject == AlarmSubjectKind.Source ? "while it is active, the other alarms of the saws behind it are suppressed" : "while it is active, the other alarms of its saw are suppressed");
        return parts;
    }

    /// <summary>Hours of the week, for example <c>Mon to Fri 06:00-14:00 (Europe/Berlin)</c>.</summary>
    public static string Hours(WorkingHours hours) =>
        $"{string.Join(", ", hours.Spans.Select(span => Text($"{Days(span.Days)} {span.From:HH':'mm}-{(span.To == TimeOnly.MinValue ? "24:00" : Text($"{span.To:HH':'mm}"))}")))} ({hours.Zone.Id})";

    /// <summary>A span of time, for example <c>90 s</c>, <c>8 h</c>, <c>2 days</c>.</summary>
    public static string Span(TimeSpan span)
    {
        (double Value, string Unit) shown = span switch
        {
            _ when span >= TimeSpan.FromDays(2) && span.Ticks % TimeSpan.TicksPerDay == 0 => (span.TotalDays, "days"),
            _ when span >= TimeSpan.FromHours(2) || (span >= TimeSpan.FromHours(1) && span.Ticks % TimeSpan.TicksPerHour == 0) => (span.TotalHours, "h"),
            _ when span >= TimeSpan.FromMinutes(2) || span == TimeSpan.FromMinutes(1) => (span.TotalMinutes, "min"),
            _ => (span.TotalSeconds, "s"),
        };
        return Text($"{shown.Value:0.##} {shown.Unit}");
    }

    /// <summary>A list in words: <c>a, b or c</c>.</summary>
    public static string List(IReadOnlyList<string> words, string last) => words.Count < 2 ? string.Concat(words) : $"{string.Join(", ", words.SkipLast(1))} {last} {words[^1]}";

    /// <summary>A name as it is read: without the underscores.</summary>
    public static string Spoken(string name) => name.Replace('_', ' ');

    private static string Test(AlarmRule rule, DisplayUnits units)
    {
        var (test, variable) = (rule.Test, rule.Variable);
        var name = Spoken(WithoutUnit(variable));
        return (variable.Kind, test.Comparison) switch
        {
            (AlarmValueKind.Number, AlarmComparison.Below) => $"{name} below {Quantity(rule, test.Limit, units)}",
            (AlarmValueKind.Number, _) => $"{name} above {Quantity(rule, test.Limit, units)}",
            (AlarmValueKind.Flag, AlarmComparison.IsNot) => $"{name} is not so: {variable.Meaning}",
            (AlarmValueKind.Flag, _) => $"{name}: {variable.Meaning}",
            (_, AlarmComparison.IsNot) => test.Words.Count == 1 ? $"{name} is not {test.Words[0]}" : $"{name} is none of {List(test.Words, "and")}",
            _ => $"{name} is {List(test.Words, "or")}",
        };
    }

    // Columns of the record end in their unit, which stands with the limit here.
    private static string WithoutUnit(AlarmVariable variable)
    {
        var end = $"_{variable.Unit.ToLowerInvariant().Replace('/', '_')}";
        return variable.Topic == AlarmTopic.Cycle && variable.Unit.Length > 0 && variable.Name.EndsWith(end, StringComparison.Ordinal) ? variable.Name[..^end.Length] : variable.Name;
    }

    private static string Quantity(AlarmRule rule, double value, DisplayUnits units) => DisplayText.Text(units, value, rule.Variable.Unit);

    // Days that follow each other are named by their ends.
    private static string Days(IReadOnlySet<DayOfWeek> days)
    {
        if (days.Count == 7)
            return "every day";
        var runs = new List<(int From, int To)>();
        for (var i = 0; i < Week.Length; i++)
        {
            if (!days.Contains(Week[i]))
                continue;
            if (runs.Count > 0 && runs[^1].To == i - 1)
                runs[^1] = (runs[^1].From, i);
            else
                runs.Add((i, i));
        }

        return string.Join(" and ", runs.Select(run => (run.To - run.From) switch
        {
            0 => Short(run.From),
            1 => $"{Short(run.From)} and {Short(run.To)}",
            _ => $"{Short(run.From)} to {Short(run.To)}",
        }));
    }

    private static string Short(int day) => CultureInfo.InvariantCulture.DateTimeFormat.GetAbbreviatedDayName(Week[day]);

    private static string Text(FormattableString text) => FormattableString.Invariant(text);
}
