using System.Globalization;
using SawEdge.Core.Alarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>Rules, changes and boards for tests.</summary>
internal static class MadeAlarms
{
    public static readonly DateTimeOffset Start = new(2026, 3, 2, 8, 0, 0, TimeSpan.Zero);

    public static readonly AlarmSubject Saw = AlarmSubject.Saw("saw-1");

    public static DateTimeOffset At(double seconds) => Start.AddTicks((long)Math.Round(seconds * TimeSpan.TicksPerSecond));

    public static AlarmRule Rule(string name = "load", bool latch = false, bool silences = false, AlarmSubjectKind of = AlarmSubjectKind.Saw) => new()
    {
        Name = name,
        Variable = new AlarmVariable(AlarmTopic.Signal, "motor_load", AlarmValueKind.Number, "kW", of, "Load of the blade motor."),
        Test = new AlarmTest { Comparison = AlarmComparison.Above, Limit = 5, ClearLimit = 4.5 },
        Text = AlarmTemplate.Parse("{saw}: motor load {value}, limit {limit}"),
        MayBe = "A dull blade.",
        Caution = "Stop the saw first.",
        Latch = latch,
        Silences = silences,
    };

    public static AlarmBoardSettings Settings { get; } = new()
    {
        Quantity = (value, unit) => string.Create(CultureInfo.InvariantCulture, $"{value:0.##} {unit}"),
        SourceOfSaw = new Dictionary<string, string> { ["saw-1"] = "plc-1", ["saw-2"] = "plc-1", ["saw-3"] = "plc-2" },
    };

    public static ConditionChange Comes(double seconds, string rule = "load", AlarmSubject? about = null, double value = 6) => new()
    {
        Rule = rule,
        Subject = about ?? Saw,
        At = At(seconds),
        Holds = true,
        Value = value,
        Limit = 5,
    };

    public static ConditionChange Goes(double seconds, string rule = "load", AlarmSubject? about = null) => Comes(seconds, rule, about, 4) with { Holds = false };

    public static AlarmAnswer About(AlarmAction action, string rule = "load", AlarmSubject? about = null, double? until = null) =>
        new(action, 0, rule, about ?? Saw, "Ada", "because", until is { } seconds ? At(seconds) : null);

    public static List<AlarmEvent> Drain(this AlarmBoard board)
    {
        var events = new List<AlarmEvent>();
        while (board.TryTake(out var happened))
            events.Add(happened);
        return events;
    }
}
