using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary><c>alarm health</c>: whether a person could heed the alarms of the last days.</summary>
internal sealed class AlarmHealthText(TextPage page, MomentText moments)
{
    private const int MostListed = 10;

    /// <summary>Takes stock of the last days, from the first cycle or event that the history holds on.</summary>
    /// <param name="reader">The history.</param>
    /// <param name="days">How many days.</param>
    /// <param name="clock">The end of the period, or the last that the history holds where that is later: a saw's clock may be ahead, as in the demo.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="CommandException">The history holds nothing of that time.</exception>
    public static async Task<AlarmHealth> ReadAsync(HistoryReader reader, int days, DateTimeOffset clock, CancellationToken cancellation)
    {
        return await reader.AlarmHealthAsync(days, clock, cancellation) ?? throw new CommandException("The history holds neither a cycle nor an alarm yet, so there is nothing to take stock of.");
    }

    /// <summary>Prints.</summary>
    public void Write(AlarmHealth health)
    {
        page.Wrapped("", $"Alarms from {moments.Of(health.From)} to {moments.Of(health.To)} ({RuleWords.Span(Rounded(health.To - health.From))}): {AlarmText.Count(health.Announced, "alarm")} announced.");
        page.Heading("Against what is advised for one person who looks after them");
        foreach (var figure in health.Figures)
            page.Wrapped(figure.IsWithin switch { true => "  good    ", false => "  NOT     ", null => "  -       " }, figure.Sentence);
        Frequent("The most frequent", health.MostFrequent, health.Announced);
        Frequent("Came and went again and again (chattering)", health.Chattering, health.Announced);
        Frequent("Went by themselves at once (fleeting)", health.Fleeting, health.Announced);
        Standing(health.Standing);
        page.Line("");
        page.Wrapped("", "Advised: ANSI/ISA-18.2 and IEC 62682 as others restate them; the standards themselves were not read. A line with - has no benchmark, or there is too little to judge by.");
    }

    /// <summary>The same as JSON.</summary>
    public static string Json(AlarmHealth health) => AlarmJson.Text(json =>
    {
        json.WriteStartObject();
        AlarmJson.Moment(json, "from", health.From);
        AlarmJson.Moment(json, "to", health.To);
        json.WriteNumber("announced", health.Announced);
        json.WriteStartArray("figures");
        foreach (var figure in health.Figures)
        {
            json.WriteStartObject();
            json.WriteString("name", figure.Name);
            AlarmJson.Number(json, "value", figure.Value);
            AlarmJson.Words(json, "unit", figure.Unit);
            AlarmJson.Words(json, "benchmark", figure.Benchmark);
            if (figure.IsWithin is { } within)
                json.WriteBoolean("within", within);
            else
                json.WriteNull("within");
            json.WriteString("sentence", figure.Sentence);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        Frequent(json, "most_frequent", health.MostFrequent);
        Frequent(json, "chattering", health.Chattering);
        Frequent(json, "fleeting", health.Fleeting);
        json.WriteStartArray("standing");
        foreach (var alarm in health.Standing)
            AlarmJson.Write(json, alarm);
        json.WriteEndArray();
        json.WriteEndObject();
    });

    private void Frequent(string heading, IReadOnlyList<FrequentAlarm> alarms, int all)
    {
        if (alarms.Count == 0)
            return;
        page.Heading(heading);
        foreach (var alarm in alarms.Take(MostListed))
            page.Wrapped(FormattableString.Invariant($"  {alarm.Count,6:N0}  "), FormattableString.Invariant($"{alarm.Subject}: {alarm.Rule}{(all > 0 ? FormattableString.Invariant($" ({alarm.Share * 100:0.#} % of all)") : "")}"));
        More(alarms.Count);
    }

    private void Standing(IReadOnlyList<Alarm> alarms)
    {
        if (alarms.Count == 0)
            return;
        page.Heading("Stood for more than a day (standing)");
        foreach (var alarm in alarms.Take(MostListed))
            page.Wrapped("  ", FormattableString.Invariant($"#{alarm.Number} {alarm.Subject}: {alarm.Rule}, since {moments.Of(alarm.RaisedAt)}{(alarm.ClearedAt is { } cleared ? $", gone at {moments.Of(cleared)}" : "")}"));
        More(alarms.Count);
    }

    private void More(int count)
    {
        if (count > MostListed)
            page.Line(FormattableString.Invariant($"  and {count - MostListed} more; --json gives all"));
    }

    private static void Frequent(Utf8JsonWriter json, string name, IReadOnlyList<FrequentAlarm> alarms)
    {
        json.WriteStartArray(name);
        foreach (var alarm in alarms)
        {
            json.WriteStartObject();
            json.WriteString("rule", alarm.Rule);
            json.WriteString("subject_kind", alarm.Subject.Kind.ToName());
            json.WriteString("subject", alarm.Subject.Name);
            json.WriteNumber("count", alarm.Count);
            json.WriteNumber("share", alarm.Share);
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }

    private static TimeSpan Rounded(TimeSpan span) => span >= TimeSpan.FromDays(2) ? TimeSpan.FromDays(Math.Round(span.TotalDays)) : TimeSpan.FromMinutes(Math.Ceiling(span.TotalMinutes));
}
