using System.Text.Json;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Forwarding;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Outbox;

/// <summary>What waits and what was set aside, as a person at a shell sees it beside a running gateway or without one.</summary>
public sealed class OutboxCommandTests
{
    private const string Database = "saws";

    [Fact]
    public async Task Status_SaysWhatWaitsForEachDestination_SinceWhen_AndWhatAilsIt()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AppendAsync(history, 3);
        var alarm = Occurrences.Make(7, "two", "destination_down") with { Subject = new AlarmSubject(AlarmSubjectKind.Destination, "two"), Text = "Nothing is taken." };
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(alarm)], Notices = [Occurrences.Notice("mail", 7)] }, CancellationToken.None);
        await history.Writer.SaveCursorAsync("two", 1, [new Refusal(1, "no")], CancellationToken.None);
        await history.Writer.SaveCursorAsync("one", 5, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("gone", 2, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("mail", 5, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("two/oee", 0, [], CancellationToken.None);

        var text = asked.Done("outbox", "status");
        Assert.Equal("A gateway runs on this folder.", text[0]);
        Assert.Equal(["two: https://influx.example, bucket saws", "one: http://127.0.0.1:8086, database saws", "gone: not in the configuration; nothing is sent there"], text.Where(line => line.Length > 0 && line[0] != ' ').Skip(1));
        Assert.Equal(["2 cycles, 1 event of alarms", "nothing", "1 cycle, 1 event of alarms"], Values(text, "Waiting"));
        Assert.Equal(2, Values(text, "Waiting since").Count);
        Assert.Equal("alarm #7 since 2026-03-02 07:07: Nothing is taken.", Assert.Single(Values(text, "Trouble")));
        Assert.StartsWith("1, the last at ", Values(text, "Set aside")[0], StringComparison.Ordinal);

        using var json = JsonDocument.Parse(string.Concat(asked.Done("outbox", "status", "--format", "json")));
        var two = json.RootElement.GetProperty("destinations")[0];
        Assert.Equal((5, 1, 2, 1, 1), (json.RootElement.GetProperty("journal_end").GetInt32(), two.GetProperty("cursor").GetInt32(), two.GetProperty("waiting_cycles").GetInt32(), two.GetProperty("waiting_alarm_events").GetInt32(), two.GetProperty("set_aside").GetInt32()));
        Assert.Equal("destination_down", two.GetProperty("alarms")[0].GetProperty("rule").GetString());
        Assert.Equal(["two", "one", "gone"], json.RootElement.GetProperty("destinations").EnumerateArray().Select(one => one.GetProperty("name").GetString()));
    }

    [Fact]
    public async Task Status_WithoutAConfiguration_ShowsWhatTheHistoryKnows()
    {
        using var asked = new Asked();
        await using (var history = asked.Open())
        {
            await AppendAsync(history, 2);
            await history.Writer.SaveCursorAsync("two", 1, [], CancellationToken.None);
        }

        var (code, text, _) = asked.RunRaw("outbox", "status", "--data", asked.Data);

        Assert.Equal((0, "No gateway runs on this folder now; what waits is sent at its next start."), (code, text[0]));
        Assert.Equal(["1 cycle, 0 events of alarms"], Values(text, "Waiting"));
        Assert.Contains("two", text);
    }

    [Fact]
    public async Task List_ShowsTheServersWordsWithoutHarm()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AppendAsync(history, 2);
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(Occurrences.Make(1))] }, CancellationToken.None);
        await history.Writer.SaveCursorAsync("one", 3, [new Refusal(2, "bad \u001b[31mpoint\n" + new string('x', 5000)), new Refusal(3, "no such field")], CancellationToken.None);

        var (_, text, _) = asked.RunRaw("outbox", "list", "one", "3", "--config", asked.ConfigFile);
        Assert.Equal("one: 1 point set aside", text[0]);
        Assert.EndsWith(" raised of alarm #1 (north: motor_load_high)", text[1], StringComparison.Ordinal);
        Assert.Equal("          no such field", text[2]);

        using var json = JsonDocument.Parse(string.Concat(asked.Done("outbox", "list", "--format", "json")));
        var entries = json.RootElement.GetProperty("destinations").EnumerateArray().ToDictionary(one => one.GetProperty("name").GetString()!, one => one.GetProperty("set_aside"), StringComparer.Ordinal);
        Assert.Equal(0, entries["two"].GetArrayLength());
        var first = entries["one"][0];
        Assert.Equal((2, "north-000001"), (first.GetProperty("number").GetInt32(), first.GetProperty("cycle_id").GetString()));
        Assert.StartsWith("bad [31mpointx", first.GetProperty("reason").GetString(), StringComparison.Ordinal);
        Assert.Equal(1000, first.GetProperty("reason").GetString()!.Length);
        Assert.Equal(("motor_load_high", "raised"), (entries["one"][1].GetProperty("rule").GetString(), entries["one"][1].GetProperty("event").GetString()));
    }

    [Fact]
    public async Task RetryAndDrop_TakeSingleOnes_OrAllOfADestination_OrAll()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AppendAsync(history, 4);
        await history.Writer.SaveCursorAsync("one", 4, [new Refusal(1, "no"), new Refusal(2, "no"), new Refusal(4, "no")], CancellationToken.None);
        await history.Writer.SaveCursorAsync("two", 4, [new Refusal(2, "no")], CancellationToken.None);
        async Task<string> LeftAsync(string name) => string.Join(',', (await history.Reader.RefusalsAsync(name)).Select(refusal => refusal.Sequence));

        Assert.Equal("one: 1 point put at the end of what waits. The gateway that runs there sends them within half a minute.", string.Join(' ', asked.Done("outbox", "retry", "one", "4").Select(line => line.Trim())));
        Assert.Equal(("1,2", "2"), (await LeftAsync("one"), await LeftAsync("two")));
        Assert.Equal("north-000003", Assert.Single(await history.Reader.JournalAsync(4, 10)).Cycle!.CycleId);

        Assert.Equal("2 points of two, one would never be sent; add --yes to drop them. Cycles and alarms themselves stay in the history.", asked.Refused("outbox", "drop", "2"));
        asked.Answer = question => question == "2 points of two, one will never be sent. Drop them? (yes/no) " ? "no" : null;
        Assert.Equal("Nothing was dropped.", asked.Refused("outbox", "drop", "2"));
        Assert.Equal(("1,2", "2"), (await LeftAsync("one"), await LeftAsync("two")));
        asked.Answer = _ => " Yes ";
        asked.Done("outbox", "drop", "2");
        Assert.Equal(("1", ""), (await LeftAsync("one"), await LeftAsync("two")));

        asked.Answer = null;
        using var dropped = JsonDocument.Parse(string.Concat(asked.Done("outbox", "drop", "one", "--yes", "--format", "json")));
        Assert.Equal(1, dropped.RootElement.GetProperty("destinations")[0].GetProperty("dropped")[0].GetInt32());
        Assert.Equal("Nothing is set aside.", Assert.Single(asked.Done("outbox", "retry")));
        Assert.Equal("Nothing is set aside.", Assert.Single(asked.Done("outbox", "drop")));
        Assert.Single(await history.Reader.JournalAsync(4, 10));
    }

    [Fact]
    public async Task WhatIsNotThere_IsRefusedWithWhatWouldBeRight()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await AppendAsync(history, 1);
        await history.Writer.SaveCursorAsync("one", 1, [new Refusal(1, "no")], CancellationToken.None);
        var file = asked.Configure("channels.json", ("alarms", """{ "channels": [ { "name": "hook", "kind": "webhook", "url": "https://riverbend.example/hook" } ] }"""));

        Assert.Equal("There is no destination 'onne'; did you mean 'one'?", asked.Refused("outbox", "retry", "onne"));
        Assert.Equal("one has set nothing aside under number 9; 'sawedge outbox list one' shows what there is.", asked.Refused("outbox", "retry", "one", "9"));
        Assert.Equal("No destination has set anything aside under number 9; 'sawedge outbox list' shows what there is.", asked.Refused("outbox", "drop", "1", "9", "--yes"));
        Assert.Equal("'x1' is no number of an entry; 'sawedge outbox list' shows them.", asked.Refused("outbox", "list", "one", "x1"));
        Assert.Equal("'hook' is a channel; 'sawedge alarm undelivered list hook' shows what it has set aside.", Assert.Single(asked.RunRaw("outbox", "list", "hook", "--config", file).Error));
        Assert.Equal("There is no destination 'onne'; did you mean 'one'?", asked.Refused("outbox", "again", "onne"));
        Assert.StartsWith("--from, --to '2026-03-04' to '2026-03-02' ends before it begins", asked.Refused("outbox", "again", "one", "--from", "2026-03-04", "--to", "2026-03-02"), StringComparison.Ordinal);
        Assert.Equal("The configuration says where to send: name it with --config beside --data.", Assert.Single(asked.RunRaw("outbox", "again", "one", "--data", asked.Data).Error));
        Assert.Single(await history.Reader.RefusalsAsync("one"));
    }

    /// <summary>A real server that holds a number where the record has a text refuses one point; when that is mended, the running forwarder takes it over by itself.</summary>
    [PeerFact(InfluxServer.Program)]
    public async Task Retry_AfterTheServerWasMended_IsTakenOverByTheRunningForwarder()
    {
        await using var server = await InfluxServer.StartAsync(Database);
        using (var http = new HttpClient())
        using (var body = new StringContent($"cycle,site=x notes=5 {Cycles.Start.ToUnixTimeMilliseconds()}"))
            (await http.PostAsync(new Uri(server.Url, $"/write?db={Database}&precision=ms"), body)).EnsureSuccessStatusCode().Dispose();
        using var asked = new Asked();
        await using var history = asked.Open();
        for (var i = 0; i < 20; i++)
            await history.AppendAsync(Cycles.Make("north", i) with { Notes = i is 5 or 11 ? "said" : "" });
        var time = new FakeTimeProvider(DateTimeOffset.UtcNow);
        await using var forwarder = new RunningForwarder(history, new InfluxOptions { Name = "one", Url = server.Url, Version1 = true, Bucket = Database }, time);
        Task ReachAsync(long sequence) => Until.TrueAsync(
            () =>
            {
                time.Advance(TimeSpan.FromSeconds(1));
                return forwarder.Cursor >= sequence;
            },
            "the forwarder reaches it");
        await ReachAsync(20);
        var listed = asked.Done("outbox", "list", "one");
        Assert.Equal(2, listed.Count(line => line.Contains("cycle north-0000", StringComparison.Ordinal)));
        Assert.Contains(listed, line => line.Contains("field type conflict", StringComparison.Ordinal));

        // Still not mended: it is refused once more, under a number of its own.
        asked.Done("outbox", "retry", "one", "6");
        await ReachAsync(21);
        Assert.Equal([12L, 21], (await history.Reader.RefusalsAsync("one")).Select(refusal => refusal.Sequence));

        await server.QueryAsync($"DROP DATABASE {Database}");
        await server.QueryAsync($"CREATE DATABASE {Database}");
        asked.Done("outbox", "retry");
        await ReachAsync(23);

        Assert.Empty(await history.Reader.RefusalsAsync("one"));
        Assert.Equal(["north-000005", "north-000011"], (await server.QueryAsync("SELECT cycle_id FROM cycle", Database)).Select(row => row["cycle_id"].GetString()));
    }

    private static async Task AppendAsync(RunningHistory history, int count)
    {
        for (var i = 0; i < count; i++)
            await history.AppendAsync(Cycles.Make("north", i));
    }

    private static List<string> Values(string[] page, string name) => [.. page.Where(line => line.StartsWith($"  {name} ".PadRight(38), StringComparison.Ordinal)).Select(line => line[38..])];
}
