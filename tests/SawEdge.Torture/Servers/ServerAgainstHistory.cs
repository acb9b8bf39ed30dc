using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Microsoft.Data.Sqlite;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;
using SawEdge.Torture.Plant;

namespace SawEdge.Torture.Servers;

/// <summary>Holds what a real influxd has against what the history has: nothing missing, nothing twice, nothing else.</summary>
/// <param name="run">Where the checks are told.</param>
/// <param name="server">The server.</param>
/// <param name="database">The gateway's database there.</param>
/// <param name="folder">The gateway's folder.</param>
/// <param name="elsewhere">The history, where it does not lie there.</param>
internal sealed class ServerAgainstHistory(TrialRun run, InfluxServer server, string database, GatewayFolder folder, HistoryFile? elsewhere = null)
{
    private readonly HistoryFile _history = elsewhere ?? folder.History;

    // Its points are told while the gateway runs and are in no table.
    private static readonly string[] OfTheMoment = ["gateway", "gateway_saw", "gateway_destination"];

    // A field that each point of a measurement has.
    private static readonly (string Measurement, string Field)[] FieldsOfEach =
        [("cycle", "cycle_id"), ("alarm", "event"), ("state", "state"), ("oee", "parts"), ("stop", "time_s"), ("load_profile", "cycle_id"), ("signal", "frames")];

    // Those that are waited for.
    private static readonly string[] AtOnce = ["cycle", "alarm"];

    // An hour's changes as long as it runs.
    private static readonly string[] OfAnHour = ["oee", "stop"];

    // Of the hour that runs and of what happens now, the last is told after a while, or at the next start.
    private static readonly TimeSpan NotYetTold = TimeSpan.FromMinutes(2);

    /// <summary>Cycles and events of alarms in the history, and points of each at the server.</summary>
    public async Task<(long Kept, long Sent)> CountAsync()
    {
        var kept = Number("SELECT (SELECT count(*) FROM cycles) + (SELECT count(*) FROM alarm_events)");
        var sent = await server.NumberAsync("SELECT count(cycle_id) FROM cycle", database) + await server.NumberAsync("SELECT count(event) FROM alarm", database);
        return (kept, (long)sent);
    }

    /// <summary>Waits until the server has all that the history has now.</summary>
    /// <returns>How long that took.</returns>
    public async Task<TimeSpan> CaughtUpAsync(GatewayProcess gateway, TimeSpan? within = null)
    {
        var began = run.Elapsed;
        var (kept, sent) = (Number("SELECT (SELECT count(*) FROM cycles) + (SELECT count(*) FROM alarm_events)"), 0L);
        try
        {
            await Until.TrueAsync(async () => gateway.HasExited || (sent = (await CountAsync()).Sent) >= kept, "", within ?? TimeSpan.FromMinutes(3));
        }
        catch (TimeoutException)
        {
            run.Check(false, $"of {kept} cycles and events the server has {sent} after {(run.Elapsed - began).TotalSeconds:0} s");
        }

        run.Check(!gateway.HasExited, $"the gateway has ended:\n{gateway.Warnings()}");
        return run.Elapsed - began;
    }

    /// <summary>Compares everything, with the gateway stopped: cycles field by field, events of alarms one by one, and every measurement with what a new server gets from the history.</summary>
    /// <returns>Points compared.</returns>
    public async Task<long> CompareAsync()
    {
        run.Say($"the gateway has ended");
        try
        {
            await Delivered.IsTheHistoryAsync(server, database, _history);
        }
        catch (Exception e) when (e is Xunit.Sdk.XunitException)
        {
            run.Check(false, $"cycles at the server and in the history differ: {e.Message}");
        }

        var stored = Rows("SELECT at, rule, kind FROM alarm_events").Select(row => $"{row[0]} {row[1]} {row[2]}").Order(StringComparer.Ordinal).ToList();
        var events = (await server.QueryAsync("SELECT event, rule FROM alarm", database)).Select(point => string.Create(CultureInfo.InvariantCulture, $"{point["time"].GetInt64()} {point["rule"].GetString()} {point["event"].GetString()}")).Order(StringComparer.Ordinal).ToList();
        var (here, there) = (stored.CountBy(known => known).ToList(), events.CountBy(known => known).ToList());
        run.Check(stored.SequenceEqual(events, StringComparer.Ordinal), $"events of alarms: {stored.Count} in the history, {events.Count} at the server; otherwise here {string.Join(", ", here.Except(there).Take(3))}, there {string.Join(", ", there.Except(here).Take(3))}");
        return await AgainstNewServerAsync();
    }

    /// <summary>Points at the server, of the measurements that the history can give again.</summary>
    public async Task<double> PointsAsync()
    {
        var points = 0.0;
        foreach (var (measurement, field) in FieldsOfEach)
            points += await server.NumberAsync($"SELECT count({field}) FROM {measurement}", database);
        return points;
    }

    /// <summary>As <see cref="CompareAsync"/> in counts and sums, where there are very many points.</summary>
    /// <param name="told">Of the hours and signals until then all is told; what began later may be told at the next start.</param>
    /// <returns>Points compared.</returns>
    public async Task<long> CompareSumsAsync(DateTimeOffset told)
    {
        var sums = Rows("SELECT saw, count(*), total(cut_time_s), total(cutting_energy_kj), sum(frames), sum(outcome = 'completed') FROM cycles GROUP BY saw").ToDictionary(row => (string)row[0], StringComparer.Ordinal);
        foreach (var found in await server.QueryAsync("SELECT count(cycle_id) AS a, sum(cut_time_s) AS b, sum(cutting_energy_kj) AS c, sum(frames) AS d, sum(completed) AS e FROM cycle GROUP BY saw", database))
        {
            var kept = sums.GetValueOrDefault(found["saw"].GetString()!);
            sums.Remove(found["saw"].GetString()!);
            string[] columns = ["a", "b", "c", "d", "e"];
            run.Check(kept is not null && columns.Select((column, i) => Math.Abs(found[column].GetDouble() - Convert.ToDouble(kept[i + 1], CultureInfo.InvariantCulture)) <= 1e-9 * Math.Abs(found[column].GetDouble())).All(same => same), $"cycles of {found["saw"]}: {string.Join(", ", columns.Select(column => found[column]))} at the server, {string.Join(", ", kept?[1..] ?? [])} in the history");
        }

        run.Check(sums.Count == 0, $"no cycles of {string.Join(", ", sums.Keys)} at the server");
        var again = await SendAgainAsync();
        var compared = 0L;
        foreach (var (measurement, field) in FieldsOfEach)
        {
            var of = AtOnce.Contains(measurement, StringComparer.Ordinal) ? measurement : string.Create(CultureInfo.InvariantCulture, $"{measurement} WHERE time < {told.ToUnixTimeMilliseconds()}ms");
            var (expected, found) = (await SumsAsync(again, of), await SumsAsync(database, of));
            compared += (long)await server.NumberAsync($"SELECT count({field}) FROM {of}", again);
            run.Check(expected == found, $"{measurement}: {found} at the server, a new one gets {expected}");
        }

        return compared;
    }

    // All of them are there: a new server is sent what the history has.
    private async Task<string> SendAgainAsync()
    {
        var again = database + "_again";
        await server.QueryAsync($"CREATE DATABASE {again}");
        var root = JsonNode.Parse(await File.ReadAllTextAsync(folder.Configuration))!;
        root["influx"]![0]!["url"] = server.Url.ToString();
        root["influx"]![0]!["database"] = again;
        var configuration = folder.File("again.json");
        await File.WriteAllTextAsync(configuration, root.ToJsonString());
        await using var command = GatewayProcess.Start("outbox", "again", root["influx"]![0]!["name"]!.GetValue<string>(), "--config", configuration);
        var exit = await command.ExitsAsync(TimeSpan.FromMinutes(20));
        run.Check(exit == 0, $"outbox again ended with {exit}: {command.Output}");
        run.Say($"a new server has all points again");
        return again;
    }

    private async Task<long> AgainstNewServerAsync()
    {
        var again = await SendAgainAsync();
        var (now, told) = (DateTimeOffset.MaxValue, TimeProvider.System.GetUtcNow() - NotYetTold);
        var compared = 0L;
        foreach (var measurement in (await server.QueryAsync("SHOW MEASUREMENTS", again)).Select(row => row["name"].GetString()!).Except(OfTheMoment, StringComparer.Ordinal))
        {
            var until = AtOnce.Contains(measurement, StringComparer.Ordinal) ? now : OfAnHour.Contains(measurement, StringComparer.Ordinal) ? told - new TimeSpan(told.Ticks % TimeSpan.TicksPerHour) : told;
            var (expected, found) = (await PointsAsync(again, measurement, until), await PointsAsync(database, measurement, until));
            compared += expected.Count;
            var (missing, other) = (expected.Except(found, StringComparer.Ordinal).ToList(), found.Except(expected, StringComparer.Ordinal).ToList());
            run.Check(missing.Count == 0 && other.Count == 0, $"{measurement}: {expected.Count} points belong there, {found.Count} are there; missing {missing.Count} as {missing.FirstOrDefault()}, other {other.Count} as {other.FirstOrDefault()}");
        }

        return compared;
    }

    // Floats are summed in whatever order the server keeps them: nine digits of the sums are the same.
    private async Task<string> SumsAsync(string from, string of) =>
        string.Join(", ", (await server.QueryAsync($"SELECT count(*) FROM {of}", from)).Concat(await server.QueryAsync($"SELECT sum(*) FROM {of}", from))
            .SelectMany(row => row.Where(cell => cell.Key != "time" && cell.Value.ValueKind == JsonValueKind.Number))
            .OrderBy(cell => cell.Key, StringComparer.Ordinal)
            .Select(cell => string.Create(CultureInfo.InvariantCulture, $"{cell.Key} {cell.Value.GetDouble():G9}")));

    private async Task<List<string>> PointsAsync(string from, string measurement, DateTimeOffset until) =>
        [.. (await server.QueryAsync($"SELECT * FROM \"{measurement}\"", from))
            .Where(point => point["time"].GetInt64() < until.ToUnixTimeMilliseconds())
            .Select(point => string.Join(' ', point.Where(cell => cell.Value.ValueKind != JsonValueKind.Null).OrderBy(cell => cell.Key, StringComparer.Ordinal).Select(cell => $"{cell.Key}={cell.Value}")))];

    private long Number(string sql) => (long)Rows(sql)[0][0];

    private List<object[]> Rows(string sql)
    {
        var rows = new List<object[]>();
        using var connection = new SqliteConnection($"Data Source={_history.Path};Mode=ReadOnly;Pooling=False;Default Timeout=10");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        using var reader = command.ExecuteReader();
        while (reader.Read())
        {
            var row = new object[reader.FieldCount];
            reader.GetValues(row);
            rows.Add(row);
        }

        return rows;
    }
}
