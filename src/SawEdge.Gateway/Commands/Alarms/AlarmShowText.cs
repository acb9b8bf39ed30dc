using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Explain;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>One alarm with everything that is stored of it, for people.</summary>
internal sealed class AlarmShowText(TextPage page, MomentText moments, DisplayUnits units, bool ascii)
{
    private readonly AlarmText _text = new(moments);

    /// <summary>Prints.</summary>
    /// <param name="alarm">The alarm.</param>
    /// <param name="events">What happened to it, in order.</param>
    /// <param name="cut">The cut that raised it; null where there is none.</param>
    public void Write(Alarm alarm, IReadOnlyList<AlarmEvent> events, Explained? cut)
    {
        page.Wrapped("", FormattableString.Invariant($"Alarm #{alarm.Number}: {alarm.Subject}, {alarm.Rule} ({alarm.Severity.ToName()})"));
        page.Wrapped("", alarm.Text);
        page.Line("");
        page.Pair("state", $"{alarm.State.ToLetter()}: {_text.State(alarm)}");
        page.Pair("raised", $"{moments.Of(alarm.RaisedAt)} ({alarm.RaisedAt.UtcDateTime:yyyy-MM-dd HH:mm:ss}Z)");
        page.Pair("came", alarm.Activations > 1 ? AlarmText.Count(alarm.Activations, "time") : null);
        page.Pair("value", Quantity(alarm.Value, alarm.Unit));
        page.Pair("limit", Quantity(alarm.Limit, alarm.Unit));
        page.Pair("likely cause", RuleWords.Spoken(alarm.Cause));
        page.Pair("may be", alarm.MayBe);
        page.Pair("what a person found", AlarmText.Verdict(alarm.Verdict));

        page.Heading("What happened");
        foreach (var happened in events)
            page.Wrapped($"  {moments.Of(happened.At)}  ", AlarmText.Event(happened));
        if (cut is not null)
            Cut(cut);
        if (alarm.Caution.Length == 0)
            return;
        page.Line("");
        page.Wrapped("", alarm.Caution);
    }

    private void Cut(Explained cut)
    {
        page.Heading("The cut");
        page.Pair("cycle", cut.Record.CycleId);
        page.Pair("began", moments.Of(cut.Record.StartedAt));
        page.Pair("job", cut.Record.Job);
        page.Pair("material", cut.Record.Material);
        page.Pair("section", cut.Record.Section);
        page.Pair("blade", cut.Record.Blade);
        if (cut.Assessment is { Score: { } score } assessment)
            page.Pair("load score", FormattableString.Invariant($"{score:0.0}, unusual from {assessment.Threshold:0.0} on"));
        LoadPlotText.Write(page, cut, units, ascii);
        page.Line("");
        page.Wrapped("", $"'sawedge explain {cut.Record.CycleId}' gives every number behind it.");
    }

    private string? Quantity(double value, string unit) => double.IsFinite(value) ? DisplayText.Text(units, value, unit) : null;
}
