using System.Buffers;
using System.Globalization;
using System.Text;
using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>What sets of rules would have done, for programs.</summary>
internal static class BacktestData
{
    private static readonly (string Name, Func<BacktestResult, TriedAlarm, object?> Get)[] Columns =
    [
        ("rules", (result, _) => result.Name),
        ("rule", (_, alarm) => alarm.Alarm.Rule),
        ("saw", (_, alarm) => alarm.Alarm.Subject.Name),
        ("severity", (_, alarm) => alarm.Alarm.Severity.ToName()),
        ("raised_at", (_, alarm) => alarm.Alarm.RaisedAt),
        ("cleared_at", (_, alarm) => alarm.Alarm.ClearedAt),
        ("value", (_, alarm) => alarm.Alarm.Value),
        ("limit", (_, alarm) => alarm.Alarm.Limit),
        ("unit", (_, alarm) => alarm.Alarm.Unit),
        ("text", (_, alarm) => alarm.Alarm.Text),
        ("cause", (_, alarm) => alarm.Alarm.Cause),
        ("cycle_id", (_, alarm) => alarm.Alarm.CycleId),
        ("activations", (_, alarm) => alarm.Alarm.Activations),
        ("announced", (_, alarm) => alarm.Announced),
        ("verdict", (_, alarm) => alarm.Verdict.ToName()),
    ];

    /// <summary>The alarms that would have come as a table: RFC 4180 with LF, texts fit for a spreadsheet.</summary>
    public static string Csv(IReadOnlyList<BacktestResult> results)
    {
        var buffer = new ArrayBufferWriter<byte>();
        buffer.Write(Encoding.UTF8.GetBytes(string.Join(',', Columns.Select(column => column.Name)) + "\n"));
        foreach (var (result, alarm) in results.SelectMany(result => result.Alarms.Select(alarm => (result, alarm))))
        {
            for (var i = 0; i < Columns.Length; i++)
            {
                if (i > 0)
                    buffer.Write(","u8);
                Write(buffer, Columns[i].Get(result, alarm));
            }

            buffer.Write("\n"u8);
        }

        return Encoding.UTF8.GetString(buffer.WrittenSpan);
    }

    /// <summary>All of it as JSON: one object for each set of rules, in a list.</summary>
    public static string Json(IReadOnlyList<BacktestResult> results) => AlarmJson.Text(json =>
    {
        json.WriteStartArray();
        foreach (var result in results)
            Write(json, result);
        json.WriteEndArray();
    });

    private static void Write(ArrayBufferWriter<byte> buffer, object? value)
    {
        switch (value)
        {
            case string text:
                CsvText.WriteForSpreadsheet(buffer, text);
                break;
            case double number when double.IsFinite(number):
                Encoding.UTF8.GetBytes(number.ToString(CultureInfo.InvariantCulture), buffer);
                break;
            case int whole:
                Encoding.UTF8.GetBytes(whole.ToString(CultureInfo.InvariantCulture), buffer);
                break;
            case DateTimeOffset moment:
                buffer.Advance(Rfc3339.Format(moment, buffer.GetSpan(Rfc3339.MaximumLength)));
                break;
        }
    }

    private static void Write(Utf8JsonWriter json, BacktestResult result)
    {
        var nothing = result.Past.Saws.Count == 0;
        json.WriteStartObject();
        json.WriteString("rules", result.Name);
        json.WriteString("over", result.Past.What);
        AlarmJson.Moment(json, "from", nothing ? null : result.Past.From);
        AlarmJson.Moment(json, "to", nothing ? null : result.Past.To);
        json.WriteNumber("days", result.Days);
        json.WriteNumber("saws", result.Past.Saws.Count);
        json.WriteNumber("cycles", result.Past.Cycles);
        json.WriteNumber("cycles_without_assessment", result.Past.WithoutAssessment);
        json.WriteNumber("frames", result.Past.Frames);
        AlarmJson.Number(json, "answered_after_s", result.AnswerAfter?.TotalSeconds);
        json.WriteNumber("alarms", result.Announced.Count());
        json.WriteNumber("kept_back_by_design", result.Alarms.Count - result.Announced.Count());
        AlarmJson.Number(json, "alarms_per_day", result.Days > 0 ? result.Announced.Count() / result.Days : null);
        AlarmJson.Number(json, "alarms_per_day_and_saw", result.Days > 0 ? result.Announced.Count() / result.Days / result.Past.Saws.Count : null);
        json.WriteNumber("worst_ten_minutes", result.WorstTenMinutes);
        AlarmJson.Moment(json, "worst_ten_minutes_at", result.WorstAt);
        Counts(json, "by_rule", "rule", result, [.. result.Tried.Select(rule => rule.Name)], (alarm, name) => alarm.Alarm.Rule == name);
        Counts(json, "by_saw", "saw", result, result.Past.Saws, (alarm, name) => alarm.Alarm.Subject == AlarmSubject.Saw(name));
        json.WriteStartArray("contacts");
        foreach (var contact in result.Contacts)
        {
            json.WriteStartObject();
            json.WriteString("contact", contact.Contact);
            json.WriteNumber("messages", contact.Messages);
            json.WriteNumber("reminders", contact.Reminders);
            json.WriteNumber("escalated", contact.Escalated);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        Judged(json, result);
        json.WriteNumber("judged_that_cannot_be_tried", result.JudgedElsewhere);
        json.WriteStartArray("rules_not_tried");
        foreach (var rule in result.NotTried)
            json.WriteStringValue(rule.Name);
        json.WriteEndArray();
        json.WriteNumber("took_s", result.Took.TotalSeconds);
        json.WriteEndObject();
    }

    private static void Counts(Utf8JsonWriter json, string name, string key, BacktestResult result, IReadOnlyList<string> keys, Func<TriedAlarm, string, bool> isOf)
    {
        json.WriteStartArray(name);
        foreach (var one in keys)
        {
            var alarms = result.Announced.Where(alarm => isOf(alarm, one)).ToList();
            json.WriteStartObject();
            json.WriteString(key, one);
            json.WriteNumber("alarms", alarms.Count);
            json.WriteNumber("confirmed", alarms.Count(alarm => alarm.Verdict == AlarmVerdict.Confirmed));
            json.WriteNumber("rejected", alarms.Count(alarm => alarm.Verdict == AlarmVerdict.Rejected));
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }

    private static void Judged(Utf8JsonWriter json, BacktestResult result)
    {
        json.WriteStartArray("judged");
        foreach (var judged in result.Judged)
        {
            json.WriteStartObject();
            json.WriteNumber("number", judged.Alarm.Number);
            json.WriteString("rule", judged.Alarm.Rule);
            json.WriteString("saw", judged.Alarm.Subject.Name);
            AlarmJson.Moment(json, "raised_at", judged.Alarm.RaisedAt);
            json.WriteString("verdict", judged.Alarm.Verdict.ToName());
            json.WriteStartArray("would_be_raised_by");
            foreach (var rule in judged.Rules)
                json.WriteStringValue(rule);
            json.WriteEndArray();
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }
}
