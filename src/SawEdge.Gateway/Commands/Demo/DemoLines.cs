using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.Commands.Demo;

/// <summary>What the demo prints of a finished cycle: one line, and what a reader should know besides below it.</summary>
internal static class DemoLines
{
    /// <summary>The heading over the lines.</summary>
    public const string Heading = "virtual time  saw     outcome        cut s  standard s  ratio  cm2/min  mean kW  job";

    /// <summary>The text for one record.</summary>
    public static string Of(CycleRecord record)
    {
        var line = string.Create(
            CultureInfo.InvariantCulture,
            $"{record.EndedAt:HH:mm:ss}      {record.Saw,-7} {record.Outcome.ToName(),-12} {Number(record.CutTimeS, "0.0"),7} {Number(record.StandardCutTimeS, "0.0"),11} {Number(record.CutTimeRatio, "0.00"),6} {Number(record.CuttingRateCm2Min, "0.0"),8} {Number(record.MeanLoadKw, "0.00"),8}  {Job(record)}");
        return record.Notes.Length == 0 ? line : $"{line}{Environment.NewLine}              {record.Notes}";
    }

    /// <summary>The text for something that happened to an alarm; null for what the demo does not print.</summary>
    public static string? Of(AlarmEvent happened)
    {
        if (happened.Alarm is not { } alarm || happened.After is AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService)
            return null;
        var head = string.Create(CultureInfo.InvariantCulture, $"{happened.At:HH:mm:ss}      {alarm.Subject.Name,-7} alarm {alarm.Number}");
        return happened.Kind switch
        {
            AlarmEventKind.Raised => $"{head}, {alarm.Severity.ToName()}: {Text(alarm)}{(alarm.MayBe.Length > 0 ? $"{Environment.NewLine}              {alarm.MayBe}" : "")}",
            AlarmEventKind.Cleared => $"{head}: the condition is gone",
            _ => null,
        };
    }

    // The name stands in a column of its own.
    private static string Text(Alarm alarm) => alarm.Text.StartsWith($"{alarm.Subject}: ", StringComparison.Ordinal) ? alarm.Text[$"{alarm.Subject}: ".Length..] : alarm.Text;

    private static string Job(CycleRecord record) => record.Section.Length == 0 ? record.Job : $"{record.Job}: {record.Material} {record.Section}";

    private static string Number(double? value, string format) => value?.ToString(format, CultureInfo.InvariantCulture) ?? "-";
}
