using SawEdge.Core.Cycles;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>Every query on cycles in dashboards/ against a real server filled by the forwarder.</summary>
public sealed class DashboardQueryTests
{
    private const string Database = "plant";

    [PeerFact(InfluxServer.Program)]
    public async Task EveryQuery_AnswersFromWhatTheForwarderWrote()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        var start = TimeProvider.System.GetUtcNow().AddHours(-2);
        for (var i = 0; i < 20; i++)
        {
            var record = Cycles.Make("north", i) with
            {
                StartedAt = start.AddMinutes(i * 3),
                Outcome = i % 5 == 4 ? CutOutcome.Aborted : CutOutcome.Completed,
                CutTimeS = 80,
                StandardCutTimeS = 100,
                CutAreaCm2 = 50,
            };
            await history.AppendAsync(record);
        }

        await using var forwarder = new RunningForwarder(history, new InfluxOptions { Name = "influx", Url = server.Url, Version1 = true, Bucket = Database });
        await forwarder.ReachesAsync(20);

        var queries = await QueriesAsync("cycles.influxql");
        Assert.Equal(6, queries.Count);
        foreach (var query in queries)
            Assert.NotEmpty(await server.QueryAsync(query, Database));

        var parts = await server.QueryAsync(queries[1], Database);
        Assert.Equal(16, parts.Sum(row => row["sum"].GetDouble()));
        var ratios = await server.QueryAsync(queries[2], Database);
        Assert.All(ratios, row => Assert.Equal(0.8, row["sum_sum"].GetDouble(), 1e-9));
        var area = await server.QueryAsync(queries[4], Database);
        Assert.Equal(16 * 50, area.Sum(row => row["sum"].GetDouble()), 1e-9);
        Assert.Equal(4, (await server.QueryAsync(queries[5], Database)).Count);
    }

    /// <summary>The queries of a file in dashboards/, in order.</summary>
    internal static async Task<IReadOnlyList<string>> QueriesAsync(string name)
    {
        var folder = AppContext.BaseDirectory;
        while (!File.Exists(Path.Combine(folder, "SawEdge.sln")))
            folder = Path.GetDirectoryName(folder) ?? throw new DirectoryNotFoundException("The tests run inside the repository.");
        var lines = await File.ReadAllLinesAsync(Path.Combine(folder, "dashboards", name));
        var text = string.Join(' ', lines.Where(line => !line.StartsWith("--", StringComparison.Ordinal)));
        return text.Split(';', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
    }
}
