using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>What a set of rules would have done, for people.</summary>
internal sealed class BacktestText(TextPage page, MomentText moments)
{
    private const int NameWidth = 30;

    // A year of alarms would bury what matters; --csv gives all of them.
    private const int MostListed = 20;

    /// <summary>Prints one result.</summary>
    public void Write(BacktestResult result)
    {
        Head(result);
        if (result.Past.Saws.Count == 0)
            return;
        Rates(result);
        Rules(result);
        Saws(result);
        Contacts(result);
        Found(result);
        NotTried(result);
        Speed(result);
    }

    /// <summary>Judged alarms under a heading of their own; nothing where there are none.</summary>
    public void Judged(string heading, IEnumerable<JudgedAlarm> alarms)
    {
        var list = alarms.ToList();
        if (list.Count == 0)
            return;
        page.Line($"  {heading}");
        foreach (var judged in list.Take(MostListed))
            page.Wrapped(Text($"    #{judged.Alarm.Number} "), $"{moments.Of(judged.Alarm.RaisedAt)} {judged.Alarm.Subject}, {judged.Alarm.Rule}: {judged.Alarm.Text}{(judged.Rules.Count > 0 ? $" (raised by {RuleWords.List(judged.Rules, "and")})" : "")}");
        if (list.Count > MostListed)
            page.Line(Text($"    and {list.Count - MostListed} more; --json gives all"));
    }

    private void Head(BacktestResult result)
    {
        var past = result.Past;
        if (past.Saws.Count == 0)
        {
            page.Wrapped("", $"{result.Name} over {past.What}: nothing lies in that time, so nothing can be tried.");
            return;
        }

        page.Wrapped("", $"{result.Name} over {past.What}: {moments.Of(past.From)} to {moments.Of(past.To)} ({Length(result.Days)}), {AlarmText.Count(past.Saws.Count, "saw")}, {AlarmText.Count(past.Cycles, "cycle")}{(past.Frames > 0 ? $", {AlarmText.Count(past.Frames, "frame")}" : "")}.");
        page.Wrapped("", $"Nothing was sent or stored. {(result.AnswerAfter is { } after ? $"People were taken to acknowledge and reset each alarm within {RuleWords.Span(after)}." : "Nobody was taken to acknowledge anything.")}");
        if (result.Days < 1)
            page.Wrapped("", "That is less than a day: rates a day are carried on from it.");
        if (past.WithoutAssessment > 0)
            page.Wrapped("", $"Of {AlarmText.Count(past.WithoutAssessment, "cycle")} no load score is stored: rules on score, findings and blade see nothing there.");
    }

    private void Rates(BacktestResult result)
    {
        var count = result.Announced.Count();
        var again = result.Announced.Sum(alarm => alarm.Announced - 1);
        var suppressed = result.Alarms.Count - count;
        page.Heading("Alarms");
        page.Pair("would have come", $"{AlarmText.Count(count, "alarm")}{(again > 0 ? $", and {AlarmText.Count(again, "time")} one of them came again before anybody answered" : "")}");
        page.Pair("a day, all saws", result.Days > 0 ? Text($"{count / result.Days:0.##}") : null);
        page.Pair("a day and saw", result.Days > 0 ? Text($"{count / result.Days / result.Past.Saws.Count:0.##}") : null);
        page.Pair("worst 10 minutes", result.WorstAt is { } at ? $"{AlarmText.Count(result.WorstTenMinutes, "alarm")}, from {moments.Of(at)}" : null);
        page.Pair("kept back by design", suppressed > 0 ? $"{AlarmText.Count(suppressed, "alarm")}: outside of the hours, or another alarm was the cause" : null);
    }

    private void Rules(BacktestResult result)
    {
        page.Heading("By rule".PadRight(NameWidth + 2) + "  alarms     a day  confirmed  rejected  not judged");
        foreach (var rule in result.Tried)
            Row(result, rule.Name, [.. result.Announced.Where(alarm => alarm.Alarm.Rule == rule.Name)]);
        Row(result, "all", [.. result.Announced]);
    }

    private void Saws(BacktestResult result)
    {
        page.Heading("By saw".PadRight(NameWidth + 2) + "  alarms     a day  confirmed  rejected  not judged");
        foreach (var saw in result.Past.Saws)
            Row(result, saw, [.. result.Announced.Where(alarm => alarm.Alarm.Subject == AlarmSubject.Saw(saw))]);
    }

    private void Row(BacktestResult result, string name, List<TriedAlarm> alarms)
    {
        int Of(AlarmVerdict verdict) => alarms.Count(alarm => alarm.Verdict == verdict);
        var rate = result.Days > 0 ? Text($"{alarms.Count / result.Days:0.##}") : "";
        page.Line(Text($"  {Fit(name)}  {alarms.Count,6:N0}  {rate,8}  {Of(AlarmVerdict.Confirmed),9:N0}  {Of(AlarmVerdict.Rejected),8:N0}  {Of(AlarmVerdict.None),10:N0}"));
    }

    private void Contacts(BacktestResult result)
    {
        if (result.Contacts.Count == 0)
            return;
        page.Heading("Messages by contact".PadRight(NameWidth + 2) + "messages     a day  reminders  escalated");
        foreach (var contact in result.Contacts)
        {
            var rate = result.Days > 0 ? Text($"{contact.Messages / result.Days:0.##}") : "";
            page.Line(Text($"  {Fit(contact.Contact)}  {contact.Messages,6:N0}  {rate,8}  {contact.Reminders,9:N0}  {contact.Escalated,9:N0}"));
        }
    }

    private void Found(BacktestResult result)
    {
        page.Heading("Against what people found");
        if (result.Judged.Count == 0)
        {
            page.Wrapped("  ", $"Nobody confirmed or rejected an alarm of that time{(result.JudgedElsewhere > 0 ? " that can be tried on this" : "")}; 'sawedge alarm confirm' and 'alarm reject' tell what was right.");
        }
        else
        {
            Share(result, AlarmVerdict.Confirmed, "confirmed", "come");
            Share(result, AlarmVerdict.Rejected, "rejected", "come again");
            Judged("Right, and would NOT have come:", result.Of(AlarmVerdict.Confirmed, raised: false));
            Judged("Wrong, and would have come again:", result.Of(AlarmVerdict.Rejected, raised: true));
        }

        if (result.JudgedElsewhere > 0)
            page.Wrapped("  ", $"{AlarmText.Count(result.JudgedElsewhere, "judged alarm")} of that time cannot be tried on this: another kind of rule, or not about a saw in it.");
    }

    private void Share(BacktestResult result, AlarmVerdict verdict, string word, string what)
    {
        var all = result.Judged.Count(judged => judged.Alarm.Verdict == verdict);
        if (all > 0)
            page.Pair($"{word} alarms of that time", Text($"{all:N0}, of which {result.Of(verdict, raised: true).Count():N0} would have {what}"));
    }

    private void NotTried(BacktestResult result)
    {
        if (result.NotTried.Count == 0)
            return;
        page.Heading("Not tried");
        var signals = result.NotTried.Where(rule => rule.Variable.Topic == AlarmTopic.Signal).Select(rule => rule.Name).ToList();
        if (signals.Count > 0)
            page.Wrapped("  ", $"On signals, which need a recording (--input): {RuleWords.List(signals, "and")}.");
        var others = result.NotTried.Where(rule => rule.Variable.Topic != AlarmTopic.Signal).Select(rule => rule.Name).ToList();
        if (others.Count > 0)
            page.Wrapped("  ", $"On time and losses, communication or the gateway, which are looked at live only: {RuleWords.List(others, "and")}.");
    }

    private void Speed(BacktestResult result)
    {
        page.Line("");
        var seconds = Math.Max(result.Took.TotalSeconds, 1e-3);
        page.Wrapped("", result.Past.Frames > 0
            ? Text($"It took {seconds:0.0} s: {result.Past.Frames / seconds:N0} frames and {result.Past.Cycles / seconds:N0} cycles a second.")
            : Text($"It took {seconds:0.0} s: {result.Past.Cycles / seconds:N0} cycles a second."));
    }

    private static string Length(double days) => days >= 2 ? Text($"{days:0.#} days") : Text($"{days * 24:0.#} h");

    private static string Fit(string name) => name.Length <= NameWidth ? name.PadRight(NameWidth) : name[..(NameWidth - 3)] + "...";

    private static string Text(FormattableString text) => FormattableString.Invariant(text);
}
