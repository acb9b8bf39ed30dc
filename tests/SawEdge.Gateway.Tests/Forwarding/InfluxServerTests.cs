using SawEdge.Core.Cycles;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>Forwarding into a real 1.x server, read back with InfluxQL.</summary>
public sealed class InfluxServerTests
{
    private const string Database = "plant";

    [PeerFact(InfluxServer.Program)]
    public async Task Cycles_ArriveWithEveryValue()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        var record = Cycles.Make("saw 1", 3) with { PartCount = 1L << 40, CutTimeRatio = 0.1 + 0.2 };
        await history.AppendAsync(record);
        await using var forwarder = new RunningForwarder(history, Options(server));

        await forwarder.ReachesAsync(1);

        var row = Assert.Single(await server.QueryAsync("SELECT * FROM cycle", Database));
        Assert.Equal(record.StartedAt.ToUnixTimeMilliseconds(), row["time"].GetInt64());
        Assert.Equal(("North plant", "gateway1", "saw 1"), (row["site"].GetString(), row["gateway"].GetString(), row["saw"].GetString()));
        Assert.Equal(75.802, row["cut_time_s"].GetDouble());
        Assert.Equal(0.1 + 0.2, row["cut_time_ratio"].GetDouble());
        Assert.Equal(1L << 40, row["part_count"].GetInt64());
        Assert.Equal(record.CutEndedAt!.Value.ToUnixTimeMilliseconds(), row["cut_ended_at"].GetInt64());
        Assert.Equal(record.CycleId, row["cycle_id"].GetString());
        Assert.False(row.ContainsKey("learned_cut_time_s"));
        // Types as the server sees them: whole numbers stay integers, so that a later float does not conflict.
        var types = (await server.QueryAsync("SHOW FIELD KEYS FROM cycle", Database)).ToDictionary(key => key["fieldKey"].GetString()!, key => key["fieldType"].GetString()!);
        Assert.Equal(("float", "integer", "integer", "string", "integer"), (types["cut_time_s"], types["frames"], types["ended_at"], types["job"], types["completed"]));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task HostileNames_ComeBackAsTheyWere()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        string[] jobs =
        [
            "plain", "with space", "a,b=c", "\"quoted\"", "back\\slash", "ends\\", "\\\"", "\\\\", "# no comment", "x\" 1\ncycle,saw=evil cut_time_s=1",
            "'; DROP DATABASE plant", "Größe 锯 \U0001F527", "=", ",", "\\n", "true", "5i", "{\"a\":1}", "%s%n", "<b>&amp;</b>", new string('x', 128),
        ];
        string[] saws = ["saw 1", "a,b=c", "\"q\"", "#saw", "Säge", "=,= ", "a\\b"];
        var number = 0;
        var expected = new List<(string Saw, string Job, string Blade, string Material)>();
        foreach (var saw in saws)
        {
            foreach (var job in jobs)
            {
                await history.AppendAsync(Cycles.Make(saw, ++number) with { Job = job, Blade = job, Material = job, Notes = job });
                var text = job.Replace('\n', ' ');
                expected.Add((saw.Replace('\\', '/'), text, text, text));
            }
        }

        await using var forwarder = new RunningForwarder(history, Options(server));
        await forwarder.ReachesAsync(number);

        var rows = await server.QueryAsync("SELECT saw, job, blade, material FROM cycle", Database);
        Assert.Equal(expected, rows.Select(row => (row["saw"].GetString()!, row["job"].GetString()!, row["blade"].GetString()!, row["material"].GetString()!)));
        Assert.Empty(await history.Reader.RefusalsAsync("influx"));
        Assert.Equal(["cycle"], (await server.QueryAsync("SHOW MEASUREMENTS", Database)).Select(row => row["name"].GetString()));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task WritingTwice_ChangesNothing_AndACorrectionReplaces()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        await Task.WhenAll(Enumerable.Range(0, 200).Select(i => history.AppendAsync(Cycles.Make("saw" + (i % 2), i))));
        await using (var first = new RunningForwarder(history, Options(server)))
            await first.ReachesAsync(200);
        var before = await SumsAsync(server);

        // As for a new or restored server: the cursor goes back to the beginning.
        await history.Writer.SaveCursorAsync("influx", 0, [], CancellationToken.None);
        await using var second = new RunningForwarder(history, Options(server));
        await second.ReachesAsync(200);
        Assert.Equal(before, await SumsAsync(server));
        Assert.Equal(200, before.Count);

        await history.AppendAsync(Cycles.Make("saw0", 0) with { Outcome = CutOutcome.Aborted, Material = "other", Blade = "B2", CutTimeS = 10 });
        await second.ReachesAsync(201);
        var after = await SumsAsync(server);
        Assert.Equal((200, 199.0), (after.Count, after.Completed));
        Assert.Equal(before.CutTime - 75.802 + 10, after.CutTime, 6);
    }

    [PeerFact(InfluxServer.Program)]
    public async Task ServerKilledAndStartedAgainInTheMiddle_CountsAreEqualAtTheEnd()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        await using var forwarder = new RunningForwarder(history, Options(server) with { BatchSize = 50, MaximumWait = TimeSpan.FromMilliseconds(10) });
        for (var i = 0; i < 1000; i++)
        {
            if (i == 300)
            {
                await forwarder.ReachesAsync(100);
                await server.KillAsync();
            }

            if (i == 900)
            {
                await Until.TrueAsync(() => forwarder.InTrouble, "the forwarder notices");
                await server.StartAgainAsync();
            }

            await history.AppendAsync(Cycles.Make("saw0", i) with { Frames = i });
        }

        await forwarder.ReachesAsync(1000);

        Assert.Equal(1000, await server.NumberAsync("SELECT count(frames) FROM cycle", Database));
        Assert.Equal(999 * 1000 / 2, await server.NumberAsync("SELECT sum(frames) FROM cycle", Database));
        Assert.Equal((1, 1), (forwarder.Log.Count(5002), forwarder.Log.Count(5004)));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task FieldOfAnotherTypeInTheDatabase_SetsAsideWithTheServersWords()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        using (var http = new HttpClient())
        using (var body = new StringContent($"cycle,site=x part_length_mm=\"text\" {Cycles.Make("saw0", 0).StartedAt.ToUnixTimeMilliseconds()}"))
            (await http.PostAsync(new Uri(server.Url, $"/write?db={Database}&precision=ms"), body)).EnsureSuccessStatusCode().Dispose();
        await using var history = new RunningHistory();
        await Task.WhenAll(Enumerable.Range(0, 40).Select(i => history.AppendAsync(Cycles.Make("saw0", i) with { PartLengthMm = i == 17 ? 250.5 : null })));
        await using var forwarder = new RunningForwarder(history, Options(server));

        await forwarder.ReachesAsync(40);

        var refusal = Assert.Single(await history.Reader.RefusalsAsync("influx"));
        Assert.Equal("saw0-000017", refusal.CycleId);
        Assert.Contains("field type conflict", refusal.Reason, StringComparison.Ordinal);
        Assert.Equal(39, await server.NumberAsync("SELECT count(frames) FROM cycle", Database));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task DatabaseMissing_WaitsUntilItIsCreated()
    {
        await using var server = await InfluxServer.StartAsync(null);
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw0", 0));
        await using var forwarder = new RunningForwarder(history, Options(server));
        await Until.TrueAsync(() => forwarder.InTrouble, "the forwarder notices");

        await server.QueryAsync($"CREATE DATABASE {Database}");
        await forwarder.ReachesAsync(1);

        Assert.Contains("database not found", Assert.Single(forwarder.Log.Entries, entry => entry.Id == 5003).Text, StringComparison.Ordinal);
        Assert.Equal(1, await server.NumberAsync("SELECT count(frames) FROM cycle", Database));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task UserAndPassword_AreAsked()
    {
        await using var server = await InfluxServer.StartAsync(Database, "gateway", "pass word:1");
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("saw0", 0));
        await using var right = new RunningForwarder(history, Options(server) with { Name = "right", User = "gateway", Password = "pass word:1" });
        await using var wrong = new RunningForwarder(history, Options(server) with { Name = "wrong", User = "gateway", Password = "guess" });

        await right.ReachesAsync(1);
        await Until.TrueAsync(() => wrong.InTrouble, "the wrong password is noticed");

        Assert.Equal(1, await server.NumberAsync("SELECT count(frames) FROM cycle", Database));
        Assert.DoesNotContain("guess", Assert.Single(wrong.Log.Entries, entry => entry.Id == 5003).Text, StringComparison.Ordinal);
    }

    private static InfluxOptions Options(InfluxServer server) => new()
    {
        Name = "influx",
        Url = server.Url,
        Version1 = true,
        Bucket = Database + "/autogen",
        MaximumWait = TimeSpan.FromMilliseconds(50),
    };

    private static async Task<(double Count, double CutTime, double Completed)> SumsAsync(InfluxServer server) => (
        await server.NumberAsync("SELECT count(frames) FROM cycle", Database),
        await server.NumberAsync("SELECT sum(cut_time_s) FROM cycle", Database),
        await server.NumberAsync("SELECT sum(completed) FROM cycle", Database));
}
