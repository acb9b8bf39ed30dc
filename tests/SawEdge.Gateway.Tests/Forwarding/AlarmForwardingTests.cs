using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>Alarms from the journal into a real 1.x server, read back with InfluxQL.</summary>
public sealed class AlarmForwardingTests
{
    private const string Database = "plant";

    [PeerFact(InfluxServer.Program)]
    public async Task Events_ArriveOnceEach_WithEveryValue_HoweverOftenTheyAreSent()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        var expected = new List<(long Time, string Rule, string Saw, string Event, long Alarm)>();
        for (var i = 1; i <= 60; i++)
        {
            // Alarms of two rules and two saws at the very same moments, the events of each a millisecond apart.
            var alarm = Occurrences.Make(i, "saw" + (i % 2), "rule" + (i / 2 % 2)) with { RaisedAt = Occurrences.Start.AddMilliseconds(i / 4 * 3) };
            var cleared = alarm with { State = AlarmState.ReturnedUnacknowledged, IsActive = false };
            AlarmEvent[] events =
            [
                Occurrences.Event(alarm),
                Occurrences.Event(alarm, AlarmEventKind.Chattering, before: AlarmState.Unacknowledged) with { At = alarm.RaisedAt.AddMilliseconds(1) },
                Occurrences.Event(cleared, AlarmEventKind.Cleared, before: AlarmState.Unacknowledged) with { At = alarm.RaisedAt.AddMilliseconds(2) },
            ];
            await history.AppendAsync(Cycles.Make("saw0", i));
            await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = events, Notices = [Occurrences.Notice("mail", i)] }, CancellationToken.None);
            expected.AddRange(events.Select(e => (e.At.ToUnixTimeMilliseconds(), e.Rule, e.Subject.Name, e.Kind.ToName(), e.Alarm!.Number)));
        }

        var last = await history.Reader.LastSequenceAsync();
        await using (var first = new RunningForwarder(history, Options(server) with { BatchSize = 7 }))
            await first.ReachesAsync(last);
        // As for a new or restored server: the cursor goes back to the beginning.
        await history.Writer.SaveCursorAsync("influx", 0, [], CancellationToken.None);
        await using var second = new RunningForwarder(history, Options(server));
        await second.ReachesAsync(last);

        var rows = await server.QueryAsync("SELECT rule, saw, event, alarm FROM alarm", Database);
        Assert.Equal(expected.Order(), rows.Select(row => (row["time"].GetInt64(), row["rule"].GetString()!, row["saw"].GetString()!, row["event"].GetString()!, row["alarm"].GetInt64())).Order());
        Assert.Equal(60, await server.NumberAsync("SELECT count(frames) FROM cycle", Database));
        Assert.Equal(60, await server.NumberAsync("SELECT sum(announced) FROM alarm", Database));
        Assert.Empty(await history.Reader.RefusalsAsync("influx"));
        var types = (await server.QueryAsync("SHOW FIELD KEYS FROM alarm", Database)).ToDictionary(key => key["fieldKey"].GetString()!, key => key["fieldType"].GetString()!);
        Assert.Equal(("integer", "integer", "float", "float", "string"), (types["alarm"], types["open"], types["value"], types["active_s"], types["state"]));
        Assert.Equal(["gateway", "rule", "saw", "site"], (await server.QueryAsync("SHOW TAG KEYS FROM alarm", Database)).Select(key => key["tagKey"].GetString()));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task HostileTexts_ComeBackAsTheyWere_OnOneLine()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        var events = Occurrences.Hostile.Select((text, i) => Occurrences.Event(Occurrences.Make(i + 1) with { Text = text, Cause = text })).ToList();
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = events }, CancellationToken.None);
        await using var forwarder = new RunningForwarder(history, Options(server));
        await forwarder.ReachesAsync(events.Count);

        var rows = await server.QueryAsync("SELECT text, cause FROM alarm", Database);
        var expected = Occurrences.Hostile.Select(text => text.ReplaceLineEndings(" ")).ToList();
        Assert.Equal(expected.Zip(expected), rows.Select(row => (row["text"].GetString()!, row["cause"].GetString()!)));
        Assert.Empty(await history.Reader.RefusalsAsync("influx"));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task EventThatTheServerRefuses_IsSetAsideByName_AndCyclesAndOtherEventsGoOn()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        using (var http = new HttpClient())
        using (var body = new StringContent($"alarm,site=x note=5 {Occurrences.Start.ToUnixTimeMilliseconds()}"))
            (await http.PostAsync(new Uri(server.Url, $"/write?db={Database}&precision=ms"), body)).EnsureSuccessStatusCode().Dispose();
        await using var history = new RunningHistory();
        for (var i = 1; i <= 10; i++)
        {
            await history.AppendAsync(Cycles.Make("north", i));
            await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(i), note: i == 4 ? "a text where a number is" : "")] }, CancellationToken.None);
        }

        await using var forwarder = new RunningForwarder(history, Options(server));
        await forwarder.ReachesAsync(20);

        var refusal = Assert.Single(await history.Reader.RefusalsAsync("influx"));
        Assert.Equal((8L, null, 4L), (refusal.Sequence, refusal.CycleId, refusal.AlarmEvent!.Event.Alarm!.Number));
        Assert.Contains("field type conflict", refusal.Reason, StringComparison.Ordinal);
        Assert.Contains("event 4 of an alarm (motor_load_high, north: raised)", Assert.Single(forwarder.Log.Entries, entry => entry.Id == 5005).Text, StringComparison.Ordinal);
        Assert.Equal((10.0, 9.0), (await server.NumberAsync("SELECT count(frames) FROM cycle", Database), await server.NumberAsync("SELECT sum(announced) FROM alarm", Database)));
    }

    [PeerFact(InfluxServer.Program)]
    public async Task EveryQuery_AnswersFromWhatTheForwarderWrote()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        await using var history = new RunningHistory();
        var start = TimeProvider.System.GetUtcNow().AddHours(-2);
        for (var i = 1; i <= 24; i++)
        {
            // Twelve rules of which some come more often; of the last occurrence of each saw only the raising is there.
            var alarm = Occurrences.Make(i, i % 2 == 0 ? "north" : "south", "rule" + (i % 12 < 6 ? 0 : i % 12)) with { RaisedAt = start.AddMinutes(i) };
            var acknowledged = alarm with { State = AlarmState.Acknowledged, AcknowledgedAt = alarm.RaisedAt.AddSeconds(i), AcknowledgedBy = "A" };
            var cleared = acknowledged with { State = AlarmState.Normal, IsActive = false, Verdict = AlarmVerdict.Confirmed };
            var events = new List<AlarmEvent> { Occurrences.Event(alarm) };
            if (i < 23)
                events.AddRange([Occurrences.Event(acknowledged, AlarmEventKind.Acknowledged, i, AlarmState.Unacknowledged, "A"), Occurrences.Event(cleared, AlarmEventKind.Cleared, 36, AlarmState.Acknowledged), Occurrences.Event(cleared, AlarmEventKind.Confirmed, 40, AlarmState.Normal, "A")]);
            await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = events }, CancellationToken.None);
        }

        var gateway = Occurrences.Make(25, rule: "disk_low") with { Subject = new AlarmSubject(AlarmSubjectKind.Gateway, "gateway1"), RaisedAt = start };
        var source = Occurrences.Make(26, rule: "source_silent") with { Subject = new AlarmSubject(AlarmSubjectKind.Source, "press"), RaisedAt = start };
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(gateway), Occurrences.Event(source)] }, CancellationToken.None);
        await using var forwarder = new RunningForwarder(history, Options(server));
        await forwarder.ReachesAsync(await history.Reader.LastSequenceAsync());

        var queries = await DashboardQueryTests.QueriesAsync("alarms.influxql");
        Assert.Equal(7, queries.Count);
        foreach (var query in queries)
            Assert.True((await server.QueryAsync(query, Database)).Count > 0, query);

        Assert.Equal(26, (await server.QueryAsync(queries[1], Database)).Sum(row => row["sum"].GetDouble()));
        Assert.Equal([23L, 24, 25, 26], (await server.QueryAsync(queries[2], Database)).Select(row => row["alarm"].GetInt64()).Order());
        var top = await server.QueryAsync(queries[3], Database);
        Assert.Equal(("rule0", 12.0), (top.MaxBy(row => row["top"].GetDouble())!["rule"].GetString(), top.Max(row => row["top"].GetDouble())));
        Assert.Equal(9, top.Count);
        Assert.Equal(22 * 36 / 3600.0, (await server.QueryAsync(queries[4], Database)).Sum(row => row["sum"].GetDouble()), 1e-9);
        Assert.Equal(22, (await server.QueryAsync(queries[6], Database)).Sum(row => row["count"].GetInt64()));
    }

    private static InfluxOptions Options(InfluxServer server) => new()
    {
        Name = "influx",
        Url = server.Url,
        Version1 = true,
        Bucket = Database,
        MaximumWait = TimeSpan.FromMilliseconds(50),
    };
}
