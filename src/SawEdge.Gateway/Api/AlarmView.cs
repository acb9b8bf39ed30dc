using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Api;

/// <summary>An alarm as the API tells it; null where something is not known.</summary>
internal sealed record AlarmView(
    long Number, string Rule, string SubjectKind, string Subject, string? Saw, string Severity, string State, string StateLetter, bool Active, bool Closed, bool Chattering, int Activations,
    double? Value, double? Limit, string? Unit, string Text, string? Cause, string? MayBe, string? Caution, string? CycleId,
    DateTimeOffset RaisedAt, DateTimeOffset? ClearedAt, DateTimeOffset? AcknowledgedAt, string? AcknowledgedBy, DateTimeOffset? ShelvedUntil, string? Verdict)
{
    /// <summary>The view of an occurrence.</summary>
    public static AlarmView Of(Alarm alarm) => new(
        alarm.Number,
        alarm.Rule,
        alarm.Subject.Kind.ToName(),
        alarm.Subject.Name,
        alarm.Subject.Kind == AlarmSubjectKind.Saw ? alarm.Subject.Name : null,
        alarm.Severity.ToName(),
        alarm.State.ToName(),
        alarm.State.ToLetter().ToString(),
        alarm.IsActive,
        alarm.IsClosed,
        alarm.IsChattering,
        alarm.Activations,
        alarm.Value,
        alarm.Limit,
        Known.Text(alarm.Unit),
        alarm.Text,
        Known.Text(alarm.Cause),
        Known.Text(alarm.MayBe),
        Known.Text(alarm.Caution),
        alarm.CycleId,
        alarm.RaisedAt,
        alarm.ClearedAt,
        alarm.AcknowledgedAt,
        Known.Text(alarm.AcknowledgedBy),
        alarm.ShelvedUntil,
        Known.Text(alarm.Verdict.ToName()));
}

/// <summary>Something that happened to an alarm.</summary>
internal sealed record AlarmEventView(DateTimeOffset At, string Event, string StateBefore, string StateAfter, string? Who, string? Note)
{
    /// <summary>The view of an event.</summary>
    public static AlarmEventView Of(AlarmEvent happened) =>
        new(happened.At, happened.Kind.ToName(), happened.Before.ToName(), happened.After.ToName(), Known.Text(happened.Who), Known.Text(happened.Note));
}

/// <summary>What is not known becomes null.</summary>
internal static class Known
{
    /// <summary>A text; null where it is empty.</summary>
    public static string? Text(string? text) => string.IsNullOrEmpty(text) ? null : text;

    /// <summary>A number; null where it is none.</summary>
    public static double? Number(double value) => double.IsFinite(value) ? value : null;

    /// <summary>A number to so many digits after the point: what was measured has no more.</summary>
    public static double? Number(double value, int digits) => double.IsFinite(value) ? Math.Round(value, digits) : null;

    /// <summary>Numbers to so many digits after the point.</summary>
    public static double?[] Numbers(IEnumerable<float> values, int digits) => [.. values.Select(value => Number(value, digits))];
}
