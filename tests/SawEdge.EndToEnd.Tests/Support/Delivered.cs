using System.Globalization;
using System.Text.Json;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>Holds what the servers have against what stands in the history.</summary>
internal static class Delivered
{
    /// <summary>Everything in the measurement, asked with InfluxQL, is the history: one point a cycle, each column the same.</summary>
    public static async Task IsTheHistoryAsync(InfluxServer server, string database, HistoryFile history)
    {
        var cycles = history.Cycles();
        var points = (await server.QueryAsync("SELECT * FROM cycle", database)).ToDictionary(point => point["cycle_id"].GetString()!, StringComparer.Ordinal);
        Assert.Equal(cycles.Select(cycle => cycle.Id).Order(StringComparer.Ordinal), points.Keys.Order(StringComparer.Ordinal));
        foreach (var cycle in cycles)
        {
            var point = points[cycle.Id];
            Assert.Equal(cycle.Whole("started_at"), point["time"].GetInt64());
            Assert.Equal("Tarn Quay", point["site"].GetString());
            Assert.Equal("hall-1", point["gateway"].GetString());
            foreach (var (column, value) in cycle.Columns.Where(column => column.Key is not ("id" or "started_at")))
                IsSame($"{cycle.Id} {column}", value, point.TryGetValue(column, out var field) ? field : default);
        }
    }

    /// <summary>Waits until a 1.x server has as many points as the history has cycles.</summary>
    public static Task AllAsync(GatewayProcess gateway, InfluxServer server, string database, int cycles) =>
        gateway.UntilAsync(async () => (int)await server.NumberAsync("SELECT count(cycle_id) FROM cycle", database) >= cycles, "every cycle is delivered");

    private static void IsSame(string what, object? value, JsonElement field)
    {
        switch (value)
        {
            case null or "":
                Assert.True(field.ValueKind is JsonValueKind.Undefined or JsonValueKind.Null, $"{what} is not known in the history, and {field} at the server");
                break;
            case string text:
                Assert.True(field.ValueKind == JsonValueKind.String && field.GetString() == text, $"{what}: '{text}' in the history, {field} at the server");
                break;
            default:
                var number = Convert.ToDouble(value, CultureInfo.InvariantCulture);
                Assert.True(field.ValueKind == JsonValueKind.Number && Math.Abs(field.GetDouble() - number) <= 1e-12 * Math.Abs(number), $"{what}: {number:R} in the history, {field} at the server");
                break;
        }
    }
}
