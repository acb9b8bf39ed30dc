using System.Globalization;
using SawEdge.Core.Load;

namespace SawEdge.Core.Alarms;

/// <summary>What the text of an alarm can name of a finding, a finished cut and a blade. What is not known is left out.</summary>
internal static class FinishedCutFacts
{
    /// <summary>Of a finding: what was seen; its value and limit in the unit that its kind has.</summary>
    public static Dictionary<string, AlarmFact> Of(LiveFinding finding, string? job)
    {
        var unit = finding.Kind switch
        {
            LiveFindingKind.NoContact => "mm",
            LiveFindingKind.FrozenSignal => "s",
            _ => "kW",
        };
        var facts = new Dictionary<string, AlarmFact>(StringComparer.Ordinal) { ["finding"] = AlarmFact.Words(finding.Words) };
        Add(facts, "value", finding.Value, unit);
        Add(facts, "limit", finding.Limit, unit);
        Add(facts, "job", job);
        return facts;
    }

    /// <summary>Of a cycle: all columns; evidence, cause, threshold of the load score.</summary>
    public static Dictionary<string, AlarmFact> Of(CycleRecord record, LoadAssessment? assessment)
    {
        var facts = new Dictionary<string, AlarmFact>(StringComparer.Ordinal);
        foreach (var column in CycleColumns.All)
        {
            switch (column.Get(record))
            {
                case string text:
                    Add(facts, column.Name, text);
                    break;
                case DateTimeOffset time:
                    Add(facts, column.Name, time.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss 'UTC'", CultureInfo.InvariantCulture));
                    break;
                case double number:
                    Add(facts, column.Name, number, column.Unit);
                    break;
                case long whole:
                    Add(facts, column.Name, whole, column.Unit);
                    break;
            }
        }

        if (assessment is null)
            return facts;
        Add(facts, "threshold", assessment.Threshold, "");
        Add(facts, "evidence", EvidenceOf(assessment));
        Add(facts, "cause", assessment.Causes is [var first, ..] ? first.Name : null);
        return facts;
    }

    /// <summary>Of a blade after a cut.</summary>
    public static Dictionary<string, AlarmFact> OfBlade(CycleRecord record, LoadAssessment? assessment)
    {
        var facts = new Dictionary<string, AlarmFact>(StringComparer.Ordinal);
        var wear = assessment?.Wear;
        Add(facts, "blade", record.Blade);
        Add(facts, "job", record.Job);
        Add(facts, "rise", wear?.Rise ?? double.NaN, "share");
        Add(facts, "area", record.BladeAreaM2 ?? wear?.AreaM2 ?? double.NaN, "m2");
        Add(facts, "area_left", wear?.AreaLeftM2 ?? double.NaN, "m2");
        Add(facts, "area_left_low", wear?.LowM2 ?? double.NaN, "m2");
        Add(facts, "cuts_left", wear?.CutsLeft ?? double.NaN, "");
        return facts;
    }

    // Where no pattern fits, at least where the cut stands out.
    private static string? EvidenceOf(LoadAssessment assessment)
    {
        if (assessment.Causes is [var first, ..])
            return first.Evidence;
        return assessment.Views.MaxBy(view => view.Score) is { } view
            ? string.Create(CultureInfo.InvariantCulture, $"Most unusual is the {view.What}: {Math.Abs(view.Statistic):0.0} standard deviations {(view.Statistic < 0 ? "below" : "above")} what was expected.")
            : null;
    }

    private static void Add(Dictionary<string, AlarmFact> facts, string name, string? text)
    {
        if (!string.IsNullOrEmpty(text))
            facts[name] = AlarmFact.Words(text);
    }

    private static void Add(Dictionary<string, AlarmFact> facts, string name, double value, string unit)
    {
        if (double.IsFinite(value))
            facts[name] = AlarmFact.Number(value, unit);
    }
}
