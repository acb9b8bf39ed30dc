using SawEdge.Core.Alarms;
using Row = System.Collections.Generic.IReadOnlyDictionary<string, System.Text.Json.JsonElement>;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>For each query on alarms: what its rows must be by the history.</summary>
internal static class AlarmChecks
{
    /// <summary>The checks by the key of their query.</summary>
    public static IReadOnlyDictionary<string, Action<IReadOnlyList<Row>, Expected>> All { get; } = new Dictionary<string, Action<IReadOnlyList<Row>, Expected>>
    {
        ["sawedge-alarms/$site"] = (rows, e) => Assert.Contains(e.Site, rows.Select(row => row["value"].GetString())),
        ["sawedge-alarms/$rule"] = (rows, e) => Assert.Equal(e.AllRules.Order(), rows.Select(row => row["value"].GetString()!).Order()),

        ["sawedge-bay/Open alarms"] = Open,
        ["sawedge-alarms/Open alarms"] = Open,
        ["sawedge-bay/What happened to alarms"] = (rows, e) => Happened(rows, e.Events.Reverse().Take(50)),
        ["sawedge-blades/Alarms of blades"] = (rows, e) => Happened(rows, e.Events.Where(x => e.Saws.Contains(x.Subject.Name) && x.Rule.StartsWith("blade_", StringComparison.Ordinal)).Reverse()),
        ["sawedge-alarms/What happened"] = (rows, e) =>
        {
            Happened(rows, e.RuleEvents.Reverse().Take(200));
            Expected.Table(rows, e.RuleEvents.Reverse().Take(200), ("state", x => x.After.ToName()), ("value", x => x.Alarm?.Value), ("limit_value", x => x.Alarm?.Limit), ("unit", x => x.Alarm?.Unit));
        },
        ["sawedge-alarms/Announced per hour"] = (rows, e) => Expected.Groups(rows, "announced", Time, e.RuleEvents.Where(IsAnnounced), x => Expected.Bar(x.At, TimeSpan.FromHours(1)), some => some.Count),
        ["sawedge-alarms/Announced, by saw"] = (rows, e) => Expected.Groups(rows, "announced", row => (Expected.Text(row, "saw"), Time(row)), e.RuleEvents.Where(IsAnnounced), x => (SawOf(x), Expected.Bar(x.At, e.Per)), some => some.Count),
        ["sawedge-alarms/Announced most often"] = (rows, e) =>
        {
            var counts = e.RuleEvents.Where(IsAnnounced).CountBy(x => x.Rule).OrderByDescending(rule => rule.Value).ToList();
            Assert.True(counts.Count > 10, "More rules than are shown.");
            Assert.Equal(10, rows.Count);
            Assert.Equal(counts.Take(10).Select(rule => (double)rule.Value), rows.Select(row => row["alarms"].GetDouble()).OrderDescending());
            Assert.All(rows, row => Assert.Equal(counts.Single(rule => rule.Key == Rule(row)).Value, row["alarms"].GetDouble()));
        },
        ["sawedge-alarms/Time active"] = (rows, e) => Expected.Groups(rows, "active", Rule, e.RuleEvents.Where(x => x.Kind == AlarmEventKind.Cleared), x => x.Rule, some => some.Sum(x => (x.At - x.Alarm!.RaisedAt).TotalSeconds)),
        ["sawedge-alarms/Time until somebody answered"] = (rows, e) =>
            Expected.Groups(rows, "median", Rule, e.RuleEvents.Where(x => x.Kind == AlarmEventKind.Acknowledged), x => x.Rule, some => Expected.Median(some.Select(x => (x.At - x.Alarm!.RaisedAt).TotalSeconds))),
        ["sawedge-alarms/What people found"] = (rows, e) => Count(rows, e, AlarmEventKind.Confirmed),
        ["sawedge-alarms/What people found/B"] = (rows, e) => Count(rows, e, AlarmEventKind.Rejected),
        ["sawedge-alarms/Coming and going"] = (rows, e) => Count(rows, e, AlarmEventKind.Chattering),
    };

    private static bool IsAnnounced(AlarmEvent happened) => happened is { After: AlarmState.Unacknowledged, Before: not AlarmState.Unacknowledged };

    private static long Time(Row row) => row["time"].GetInt64();

    private static string Rule(Row row) => Expected.Text(row, "rule");

    private static string SawOf(AlarmEvent happened) => happened.Subject.Kind == AlarmSubjectKind.Saw ? happened.Subject.Name : "";

    private static void Open(IReadOnlyList<Row> rows, Expected expected) => Expected.Table(
        [.. rows.OrderBy(row => row["alarm"].GetInt64())],
        expected.Open.OrderBy(alarm => alarm.Number),
        ("alarm", a => a.Number),
        ("severity", a => a.Severity.ToName()),
        ("state", a => a.State.ToName()),
        ("text", a => a.Text),
        ("rule", a => a.Rule),
        ("saw", a => a.Subject.Kind == AlarmSubjectKind.Saw ? a.Subject.Name : ""),
        ("source", a => a.Subject.Kind == AlarmSubjectKind.Source ? a.Subject.Name : ""));

    private static void Happened(IReadOnlyList<Row> rows, IEnumerable<AlarmEvent> events) => Expected.Table(
        rows,
        events,
        ("time", x => x.At),
        ("event", x => x.Kind.ToName()),
        ("severity", x => x.Alarm?.Severity.ToName()),
        ("rule", x => x.Rule),
        ("saw", SawOf),
        ("text", x => x.Alarm?.Text));

    private static void Count(IReadOnlyList<Row> rows, Expected expected, AlarmEventKind kind) => Expected.Groups(rows, "alarms", Rule, expected.RuleEvents.Where(x => x.Kind == kind), x => x.Rule, some => some.Count);
}
