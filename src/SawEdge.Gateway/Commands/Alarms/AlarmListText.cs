using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>Alarms one below the other, for people.</summary>
internal sealed class AlarmListText(TextPage page, MomentText moments)
{
    private readonly AlarmText _text = new(moments);

    /// <summary>One alarm.</summary>
    public void Write(Alarm alarm)
    {
        page.Wrapped($"#{alarm.Number} ", $"{alarm.Subject}: {alarm.Rule} ({alarm.Severity.ToName()}), {moments.Of(alarm.RaisedAt)}");
        page.Wrapped("    ", alarm.Text);
        page.Wrapped("    ", $"{alarm.State.ToLetter()}: {_text.State(alarm)}");
        if (alarm.Verdict != AlarmVerdict.None)
            page.Wrapped("    ", AlarmText.Verdict(alarm.Verdict));
    }

    /// <summary>What is open, in one line.</summary>
    /// <param name="alarms">The open alarms.</param>
    public void Summary(IReadOnlyList<Alarm> alarms)
    {
        var waiting = alarms.Count(alarm => alarm.State is AlarmState.Unacknowledged or AlarmState.ReturnedUnacknowledged or AlarmState.LatchedUnacknowledged);
        var severities = Enum.GetValues<AlarmSeverity>().Reverse().Select(severity => (severity, Count: alarms.Count(alarm => alarm.Severity == severity))).Where(pair => pair.Count > 0);
        page.Wrapped("", alarms.Count == 0
            ? "No alarm is open."
            : FormattableString.Invariant($"{AlarmText.Count(alarms.Count, "open alarm")} ({string.Join(", ", severities.Select(pair => FormattableString.Invariant($"{pair.Count} {pair.severity.ToName()}")))}), {waiting} not acknowledged."));
    }
}
