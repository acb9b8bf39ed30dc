using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed class AlarmHealthCommandTests
{
    [Fact]
    public async Task Health_SaysEachFigureAgainstItsBenchmark_AndWhichAlarmsAreBehindIt()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await StoreAsync(asked, history);

        var said = asked.Done("alarm", "health");

        Assert.Equal("Alarms from 2026-03-02 07:00 to 2026-03-09 13:00 (7 days): 15 alarms announced.", said[0]);
        Assert.Contains(said, line => line.StartsWith("  good    2.07 alarms a day", StringComparison.Ordinal));
        Assert.Contains(said, line => line.StartsWith("  NOT     The worst ten minutes brought 12 alarms", StringComparison.Ordinal));
        Assert.Contains(said, line => line.StartsWith("  -       Of 1 that somebody judged 1 were right", StringComparison.Ordinal));
        var most = Array.IndexOf(said, "The most frequent");
        Assert.Equal(["      12  north: motor_load_high (80 % of all)", "       3  quay: stall (20 % of all)"], said[(most + 1)..(most + 3)]);
        Assert.Contains("Came and went again and again (chattering)", said);
        Assert.Contains("Stood for more than a day (standing)", said);
        Assert.Contains("  #13 quay: stall, since 2026-03-05 07:00", said);
        Assert.Contains("1 day", asked.Done("alarm", "health", "--days", "1")[0].Replace("24 h", "1 day", StringComparison.Ordinal), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Health_Json_HoldsTheSame()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await StoreAsync(asked, history);

        using var json = JsonDocument.Parse(string.Join('\n', asked.Done("alarm", "health", "--json")));
        Assert.Equal(15, json.RootElement.GetProperty("announced").GetInt32());
        var worst = json.RootElement.GetProperty("figures").EnumerateArray().Single(figure => figure.GetProperty("name").GetString() == "worst_10_min");
        Assert.Equal((12, false, "10 or less"), (worst.GetProperty("value").GetDouble(), worst.GetProperty("within").GetBoolean(), worst.GetProperty("benchmark").GetString()));
        Assert.Equal(13, json.RootElement.GetProperty("standing")[0].GetProperty("number").GetInt64());
        Assert.Equal("motor_load_high", json.RootElement.GetProperty("most_frequent")[0].GetProperty("rule").GetString());
    }

    [Fact]
    public async Task Health_OfNothing_IsRefused()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        Assert.Equal("The history holds neither a cycle nor an alarm yet, so there is nothing to take stock of.", asked.Refused("alarm", "health"));
        Assert.Equal("--days 0: a whole number of days from 1 to 3660 is wanted.", asked.Refused("alarm", "health", "--days", "0"));
    }

    // A cycle a week ago; 12 alarms of one rule within some minutes, the first three of them in one, and three of another, the first of which stands.
    private static async Task StoreAsync(Asked asked, RunningHistory history)
    {
        await history.AppendAsync(Cycles.Make("north", 0));
        for (var i = 0; i < 12; i++)
        {
            var at = Occurrences.Start.AddDays(1).AddSeconds(i < 3 ? 10 * i : 40 * i);
            var alarm = Occurrences.Make(i + 1) with { RaisedAt = at, State = AlarmState.Unacknowledged, Verdict = i == 0 ? AlarmVerdict.Confirmed : AlarmVerdict.None };
            var gone = alarm with { State = AlarmState.Normal, IsActive = false, ClearedAt = at.AddSeconds(5) };
            await AlarmLookingTests.AppendAsync(history, Occurrences.Event(alarm), Occurrences.Event(gone, AlarmEventKind.Cleared, 5, AlarmState.Unacknowledged));
        }

        for (var i = 0; i < 3; i++)
            await AlarmLookingTests.AppendAsync(history, Occurrences.Event(Occurrences.Make(13 + i, "quay", "stall") with { RaisedAt = Occurrences.Start.AddDays(3).AddHours(i), ClearedAt = i == 0 ? null : Occurrences.Start.AddDays(3).AddHours(i + 1), IsActive = i == 0 }));
    }
}
