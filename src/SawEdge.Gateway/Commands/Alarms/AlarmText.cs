using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>States and events of alarms as people read them.</summary>
/// <param name="moments">Writes moments.</param>
internal sealed class AlarmText(MomentText moments)
{
    /// <summary>The state of an occurrence, in words.</summary>
    public string State(Alarm alarm) => alarm.State switch
    {
        AlarmState.Unacknowledged => $"active, not acknowledged{Held(alarm)}",
        AlarmState.Acknowledged => $"active, {Acknowledged(alarm)}{Held(alarm)}",
        AlarmState.ReturnedUnacknowledged => $"{Gone(alarm)}, not acknowledged",
        AlarmState.LatchedUnacknowledged => $"{Gone(alarm)}, not acknowledged; it stays until it is acknowledged and reset",
        AlarmState.LatchedAcknowledged => $"{Gone(alarm)}, {Acknowledged(alarm)}; it stays until it is reset",
        AlarmState.Shelved => $"{Level(alarm)}, shelved{(alarm.ShelvedUntil is { } until ? $" until {moments.Of(until)}" : "")}",
        AlarmState.SuppressedByDesign => $"{Level(alarm)}, suppressed by design: outside of its hours, or another alarm is its cause",
        AlarmState.OutOfService => $"{Level(alarm)}, out of service",
        _ => $"closed, {Gone(alarm)}{(alarm.AcknowledgedAt is null ? "" : $", {Acknowledged(alarm)}")}",
    };

    /// <summary>What a person found, in words; empty where nobody has said.</summary>
    public static string Verdict(AlarmVerdict verdict) => verdict switch
    {
        AlarmVerdict.Confirmed => "confirmed: it was right",
        AlarmVerdict.Rejected => "rejected: nothing was wrong",
        _ => "",
    };

    /// <summary>An event in words, without its time.</summary>
    public static string Event(AlarmEvent happened)
    {
        var what = happened.Kind switch
        {
            AlarmEventKind.Raised => "raised",
            AlarmEventKind.Cleared => "condition gone",
            AlarmEventKind.TakenOutOfService => "taken out of service",
            AlarmEventKind.ReturnedToService => "put back into service",
            AlarmEventKind.Suppressed => "suppressed by design",
            AlarmEventKind.Unsuppressed => "suppressed no longer",
            AlarmEventKind.Chattering => "comes and goes too often: held active until it is quiet",
            AlarmEventKind.Settled => "quiet: held no longer",
            AlarmEventKind.Commented => "remark",
            _ => happened.Kind.ToName(),
        };
        var by = happened.Who.Length > 0 ? $" by {happened.Who}" : "";
        var note = happened.Note.Length > 0 ? $": {happened.Note}" : "";
        var state = happened.Before == happened.After ? "" : $" [{happened.Before.ToLetter()} to {happened.After.ToLetter()}]";
        return $"{what}{by}{note}{state}";
    }

    /// <summary>A count with its word.</summary>
    public static string Count(long count, string what) => string.Create(CultureInfo.InvariantCulture, $"{count:N0} {what}{(count == 1 ? "" : "s")}");

    private static string Level(Alarm alarm) => alarm.IsActive ? "active" : "not active";

    private static string Held(Alarm alarm) => alarm.IsChattering ? "; it comes and goes too often and is held active until it is quiet" : "";

    private string Gone(Alarm alarm) => alarm.ClearedAt is { } cleared ? $"gone since {moments.Of(cleared)}" : "gone";

    private string Acknowledged(Alarm alarm) =>
        $"acknowledged{(alarm.AcknowledgedBy.Length > 0 ? $" by {alarm.AcknowledgedBy}" : "")}{(alarm.AcknowledgedAt is { } at ? $" at {moments.Of(at)}" : "")}";
}
