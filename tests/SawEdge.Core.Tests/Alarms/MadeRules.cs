using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>Rules, cuts and assessments for the tests.</summary>
internal static class MadeRules
{
    public static AlarmRule Rule(AlarmTopic topic, string variable, AlarmTest test, string name = "r", string text = "{saw}: {value}") =>
        new() { Name = name, Variable = AlarmVariables.Of(topic, variable), Test = test, Text = AlarmTemplate.Parse(text) };

    /// <summary>A rule on the motor load: limit, clear limit, delays in seconds.</summary>
    public static AlarmRule Load(AlarmComparison comparison, double limit, double clear, double on = 0, double off = 0) =>
        Rule(AlarmTopic.Signal, "motor_load", Number(comparison, limit, clear)) with { OnDelay = TimeSpan.FromSeconds(on), OffDelay = TimeSpan.FromSeconds(off) };

    public static AlarmTest Number(AlarmComparison comparison, double limit, double? clear = null) => new() { Comparison = comparison, Limit = limit, ClearLimit = clear ?? limit };

    public static AlarmTest Is(params string[] words) => new() { Comparison = AlarmComparison.Is, Words = words };

    public static AlarmTest IsNot(params string[] words) => new() { Comparison = AlarmComparison.IsNot, Words = words };

    /// <summary>The n-th cut: one every two minutes, a minute long.</summary>
    public static CycleRecord Cut(int n) => new()
    {
        CycleId = $"Saw 1-{n}",
        Saw = "Saw 1",
        StartedAt = SawScript.At(n * 120),
        EndedAt = SawScript.At((n * 120) + 60),
        Outcome = CutOutcome.Completed,
        Frames = 500,
        Job = "J-1",
        Blade = "B-1",
        LoadScore = 0.5,
    };

    public static LoadAssessment Normal { get; } = new() { Score = 0.5, Threshold = 3 };

    public static LoadAssessment Unusual { get; } = new()
    {
        Score = 5.5,
        Threshold = 3,
        Causes = [new LikelyCause("hard_spot", 1, "The load was 40 % above the rest of the cut at depth 40 to 46 mm.", "A hard spot.", "Look at the cut face.")],
    };

    public static LiveFinding Finding(LiveFindingKind kind, DateTimeOffset at) => new(kind, at, 2.1, 2.5, $"Seen: {kind.ToName()}.");

    public static LoadAssessment With(params LiveFinding[] findings) => new() { Threshold = 3, Findings = findings };

    public static List<ConditionChange> Drain(this SawAlarmWatch watch)
    {
        var changes = new List<ConditionChange>();
        while (watch.TryTake(out var change))
            changes.Add(change);
        return changes;
    }

    /// <summary>The changes as short words: <c>+rule</c> came, <c>-rule</c> went.</summary>
    public static string Words(this IEnumerable<ConditionChange> changes) => string.Join(' ', changes.Select(change => (change.Holds ? "+" : "-") + change.Rule));
}
