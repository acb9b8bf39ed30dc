using System.Text.Json;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using Row = System.Collections.Generic.IReadOnlyDictionary<string, System.Text.Json.JsonElement>;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>What the history says of the time and the saws that are chosen, and comparisons of a server's rows with it.</summary>
internal sealed record Expected
{
    /// <summary>Cycles of the chosen saws that began in the chosen time, in order.</summary>
    public required IReadOnlyList<CycleRecord> Cycles { get; init; }

    /// <summary>The chosen saws.</summary>
    public required IReadOnlyList<string> Saws { get; init; }

    /// <summary>All saws of the site.</summary>
    public required IReadOnlyList<string> AllSaws { get; init; }

    /// <summary>Events of alarms of the site in the chosen time, in the order of their times.</summary>
    public required IReadOnlyList<AlarmEvent> Events { get; init; }

    /// <summary>Those of the chosen rules.</summary>
    public required IReadOnlyList<AlarmEvent> RuleEvents { get; init; }

    /// <summary>All rules of the site.</summary>
    public required IReadOnlyList<string> AllRules { get; init; }

    /// <summary>Alarms of the site that are open.</summary>
    public required IReadOnlyList<Alarm> Open { get; init; }

    /// <summary>The chosen width of the bars.</summary>
    public required TimeSpan Per { get; init; }

    /// <summary>Name of the site.</summary>
    public required string Site { get; init; }

    /// <summary>The span of a bar in which a moment lies; they begin at whole multiples since 1970.</summary>
    public static long Bar(DateTimeOffset moment, TimeSpan width) => moment.ToUnixTimeMilliseconds() / (long)width.TotalMilliseconds * (long)width.TotalMilliseconds;

    /// <summary>Holds points that were not summed up against those of the history.</summary>
    public static void Points<T>(IEnumerable<Row> rows, string column, IEnumerable<T> items, Func<T, DateTimeOffset> at, Func<T, string> subject, Func<T, double?> value, string tag = "saw")
    {
        var found = rows.Where(row => row[column].ValueKind == JsonValueKind.Number).Select(row => (row["time"].GetInt64(), Text(row, tag), row[column].GetDouble())).Order().ToList();
        var wanted = items.Where(item => value(item) is not null).Select(item => (at(item).ToUnixTimeMilliseconds(), subject(item), value(item)!.Value)).Order().ToList();
        Assert.NotEmpty(wanted);
        Assert.Equal(wanted, found);
    }

    /// <summary>Holds sums and the like against those of the history. Bars in which there is nothing are 0 on the server, or are not there.</summary>
    public static void Groups<T, TKey>(IEnumerable<Row> rows, string column, Func<Row, TKey> keyOf, IEnumerable<T> items, Func<T, TKey> key, Func<IReadOnlyList<T>, double> value)
        where TKey : notnull
    {
        var wanted = items.GroupBy(key).ToDictionary(group => group.Key, group => value([.. group]));
        var found = rows.Where(row => row[column].ValueKind == JsonValueKind.Number).ToDictionary(keyOf, row => row[column].GetDouble());
        Assert.NotEmpty(wanted);
        foreach (var (name, number) in wanted)
            Assert.Equal(number, found.GetValueOrDefault(name), 1e-9 * Math.Max(1, Math.Abs(number)));
        Assert.All(found.Where(pair => !wanted.ContainsKey(pair.Key)), pair => Assert.Equal(0, pair.Value));
    }

    /// <summary>Holds texts and numbers of rows, in order, against those of the history.</summary>
    public static void Table<T>(IReadOnlyList<Row> rows, IEnumerable<T> items, params (string Column, Func<T, object?> Value)[] columns)
    {
        var wanted = items.ToList();
        Assert.NotEmpty(wanted);
        Assert.Equal(wanted.Count, rows.Count);
        foreach (var (item, row) in wanted.Zip(rows))
        {
            foreach (var (column, value) in columns)
                Assert.Equal((column, Words(value(item))), (column, Words(row[column])));
        }
    }

    /// <summary>The value nearest to the middle, as the server picks it: half of them are not greater.</summary>
    public static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToList();
        return sorted[(int)Math.Floor((sorted.Count * 0.5) + 0.5) - 1];
    }

    /// <summary>The text of a column; empty where there is none.</summary>
    public static string Text(Row row, string column) => row.TryGetValue(column, out var cell) && cell.ValueKind == JsonValueKind.String ? cell.GetString()! : "";

    private static string Words(object? value) => value switch
    {
        null or "" => "",
        string text => text,
        DateTimeOffset time => Number(time.ToUnixTimeMilliseconds()),
        JsonElement { ValueKind: JsonValueKind.Null } => "",
        JsonElement { ValueKind: JsonValueKind.String } text => text.GetString()!,
        JsonElement { ValueKind: JsonValueKind.Number } number => Number(number.GetDouble()),
        IConvertible number => Number(number.ToDouble(null)),
        _ => throw new ArgumentException($"{value.GetType()} is no kind of value.", nameof(value)),
    };

    private static string Number(double number) => double.IsNaN(number) ? "" : number.ToString("R", System.Globalization.CultureInfo.InvariantCulture);
}
