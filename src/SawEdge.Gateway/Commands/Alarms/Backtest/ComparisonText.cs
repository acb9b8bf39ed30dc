using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>Two sets of rules side by side, for people.</summary>
internal sealed class ComparisonText(TextPage page, MomentText moments)
{
    private const int NameWidth = 44;
    private const int ColumnWidth = 18;

    /// <summary>Prints.</summary>
    /// <param name="one">The first, in the left column.</param>
    /// <param name="other">The second.</param>
    public void Write(BacktestResult one, BacktestResult other)
    {
        page.Heading("Side by side");
        page.Wrapped("  A: ", one.Name);
        page.Wrapped("  B: ", other.Name);
        page.Line("");
        Row("", "A", "B");
        Row("alarms", one, other, result => Number(result.Announced.Count()));
        Row("alarms a day and saw", one, other, result => result.Days > 0 ? Text($"{result.Announced.Count() / result.Days / result.Past.Saws.Count:0.##}") : "");
        Row("alarms in the worst 10 minutes", one, other, result => Number(result.WorstTenMinutes));
        Row("confirmed alarms that would have come", one, other, result => Share(result, AlarmVerdict.Confirmed));
        Row("rejected alarms that would have come again", one, other, result => Share(result, AlarmVerdict.Rejected));
        foreach (var contact in one.Contacts.Concat(other.Contacts).Select(contact => contact.Contact).Distinct(StringComparer.Ordinal))
            Row($"messages to {contact}", one, other, result => result.Contacts.FirstOrDefault(known => known.Contact == contact) is { } known ? Number(known.Messages) : "no such contact");
        page.Line("");
        foreach (var rule in one.Tried.Concat(other.Tried).Select(rule => rule.Name).Distinct(StringComparer.Ordinal))
        {
            Row($"rule {rule}", one, other, result => result.Tried.Any(known => known.Name == rule)
                ? Number(result.Announced.Count(alarm => alarm.Alarm.Rule == rule))
                : "no such rule");
        }

        var text = new BacktestText(page, moments);
        var only = Differences(one, other, AlarmVerdict.Confirmed).Concat(Differences(other, one, AlarmVerdict.Confirmed)).Concat(Differences(one, other, AlarmVerdict.Rejected)).Concat(Differences(other, one, AlarmVerdict.Rejected));
        if (!only.Any())
            return;
        page.Heading("Where they differ on what people found");
        text.Judged("Right, and only A would have raised it:", Differences(one, other, AlarmVerdict.Confirmed));
        text.Judged("Right, and only B would have raised it:", Differences(other, one, AlarmVerdict.Confirmed));
        text.Judged("Wrong, and only A would have raised it again:", Differences(one, other, AlarmVerdict.Rejected));
        text.Judged("Wrong, and only B would have raised it again:", Differences(other, one, AlarmVerdict.Rejected));
    }

    private static IEnumerable<JudgedAlarm> Differences(BacktestResult raised, BacktestResult not, AlarmVerdict verdict)
    {
        var missing = not.Of(verdict, raised: false).Select(judged => judged.Alarm.Number).ToHashSet();
        return raised.Of(verdict, raised: true).Where(judged => missing.Contains(judged.Alarm.Number));
    }

    private void Row(string name, BacktestResult one, BacktestResult other, Func<BacktestResult, string> value) => Row(name, value(one), value(other));

    private void Row(string name, string one, string other) =>
        page.Line($"  {(name.Length <= NameWidth ? name.PadRight(NameWidth) : name[..(NameWidth - 3)] + "...")}{one.PadLeft(ColumnWidth)}{other.PadLeft(ColumnWidth)}");

    private static string Share(BacktestResult result, AlarmVerdict verdict) =>
        Text($"{result.Of(verdict, raised: true).Count():N0} of {result.Judged.Count(judged => judged.Alarm.Verdict == verdict):N0}");

    private static string Number(int count) => Text($"{count:N0}");

    private static string Text(FormattableString text) => FormattableString.Invariant(text);
}
