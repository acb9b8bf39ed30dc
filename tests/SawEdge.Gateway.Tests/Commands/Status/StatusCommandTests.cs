using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Status;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Status;

/// <summary>Whether all is well and what is not, as a person at a shell sees it, beside a running gateway, a dead one, and one that hangs.</summary>
public sealed class StatusCommandTests
{
    private static HealthReport Report => new(Asked.Now.AddSeconds(-20), 60)
    {
        UptimeS = 3 * 86_400,
        ProcessorS = 1.5,
        MemoryBytes = 120_000_000,
        HistoryBytes = 2_300_000_000,
        BudgetShare = 0.115,
        DiskFreeBytes = 40_000_000_000,
        Saws = [new SawHealth("north") { Frames = 600 }, new SawHealth("quay") { SilenceS = 400, Missed = 3, Errors = 1, Lost = 2 }],
        Destinations = [new DestinationReport("plant") { Waiting = 0, LagS = 0, InTrouble = false }, new DestinationReport("head office") { Waiting = 1204, LagS = 11_000, SetAside = 2, InTrouble = true }],
    };

    [Fact]
    public async Task Status_ARunningGatewayWithoutTrouble_IsAllWell()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        Started(asked, TimeSpan.FromDays(3));
        await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("north", 1) with { EndedAt = Asked.Now.AddMinutes(-10) } }, CancellationToken.None);
        await history.Writer.SaveHealthAsync(Report, CancellationToken.None);

        var text = asked.Done("status");

        Assert.Equal(
            [
                "All is well.",
                "",
                "  gateway                             runs for 3 d 0 h, 120 MB of memory, 2.5 % of one core",
                "  history                             2.30 GB, 11.5 % of its budget, 40.0 GB free on the disk",
                "  saw north                           10 frames a second, last cycle 2026-03-09 12:50, completed",
                "  saw quay                            nothing heard for 6 min, 2 frames lost, 3 polls left out,",
                "                                      1 request without an answer, no cycle yet",
                "  to plant                            nothing waits",
                "  to head office                      takes nothing at the moment, 1,204 waiting, the oldest for",
                "                                      3 h 3 min, 2 refused and set aside ('sawedge outbox list')",
            ],
            text);
        Assert.Equal(["The gateway does its work."], asked.Done("status", "--gateway"));
    }

    [Fact]
    public async Task Status_AnAlarmWhoseConditionHolds_IsSaid_AndEndsWith2()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        Started(asked, TimeSpan.FromDays(3));
        await history.Writer.SaveHealthAsync(Report, CancellationToken.None);
        var alarm = Occurrences.Make(7, "quay", "silence") with { Text = "Nothing is heard of quay." };
        await history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = [Occurrences.Event(alarm)] }, CancellationToken.None);

        var (code, text, _) = asked.Run("status");

        Assert.Equal((2, "The gateway runs; 1 thing is not as it should be:"), (code, text[0]));
        Assert.Equal("  - alarm #7 since 2026-03-02 07:07: Nothing is heard of quay.", text[1]);
        Assert.Equal(["The gateway does its work."], asked.Done("status", "--gateway"));
        var (json, lines, _) = asked.Run("status", "--format", "json");
        using var document = JsonDocument.Parse(string.Concat(lines));
        var root = document.RootElement;
        Assert.Equal((2, false, true), (json, root.GetProperty("well").GetBoolean(), root.GetProperty("gateway_running").GetBoolean()));
        Assert.Equal(7, Assert.Single(root.GetProperty("alarms").EnumerateArray()).GetProperty("number").GetInt32());
        Assert.Equal(1204, root.GetProperty("report").GetProperty("destinations")[1].GetProperty("waiting").GetInt32());
    }

    [Fact]
    public async Task Status_ASawThatWasNeverHeard_IsSaidLongBeforeAnAlarm_UnlessTheOtherGatewayWatches()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        Started(asked, TimeSpan.FromSeconds(30));
        var first = Report with { UptimeS = 10, Saws = [new SawHealth("north") { Frames = 100, SilenceS = 0.1 }, new SawHealth("quay") { Frames = 1, SilenceS = 9.6 }] };
        await history.Writer.SaveHealthAsync(first, CancellationToken.None);

        var (code, text, _) = asked.Run("status");

        Assert.Equal((2, "The gateway runs; 1 thing is not as it should be:"), (code, text[0]));
        Assert.Contains("nothing usable was heard of quay since the start, looked at 20 s ago (it looks each minute)", string.Join(' ', text.Select(line => line.Trim())), StringComparison.Ordinal);
        Assert.Contains(text, line => line.StartsWith("  saw quay", StringComparison.Ordinal) && line.Contains("nothing heard for 10 s", StringComparison.Ordinal));
        Assert.Equal(["The gateway does its work."], asked.Done("status", "--gateway"));
        var (_, json, _) = asked.Run("status", "--format", "json");
        using var document = JsonDocument.Parse(string.Concat(json));
        Assert.Equal("quay", Assert.Single(document.RootElement.GetProperty("unheard").EnumerateArray()).GetString());

        await history.Writer.SaveHealthAsync(first with { Standby = "standby" }, CancellationToken.None);
        Assert.Equal("All is well.", asked.Done("status")[0]);
    }

    [Fact]
    public async Task Status_TheConfigurationWasBrokenMeanwhile_IsSaidBesideHowTheGatewayIs()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        Started(asked, TimeSpan.FromDays(3));
        await history.Writer.SaveHealthAsync(Report, CancellationToken.None);
        var broken = asked.Configure("sawedge.json", ("saws[0].signals.motor_load.unit", "\"furlong\""));

        var (code, text, error) = asked.Run("status");

        Assert.Equal((2, "The gateway runs; 1 thing is not as it should be:"), (code, text[0]));
        Assert.Empty(error);
        var whole = string.Join(' ', text.Select(line => line.Trim()));
        Assert.Contains("would not start with what stands there now: ", whole, StringComparison.Ordinal);
        Assert.Contains("'furlong'", whole, StringComparison.Ordinal);
        Assert.Contains(text, line => line.StartsWith("  saw north ", StringComparison.Ordinal));
        Assert.Equal(["The gateway does its work."], asked.Done("status", "--gateway"));

        // Where nothing names a folder with a history there is nothing to be said but the mistake.
        await File.WriteAllTextAsync(broken, "{ \"site\": ");
        Assert.Contains("sawedge.json", asked.Refused("status"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Status_TimesAreThoseOfThePlant_WhereverTheGatewaysPcStands()
    {
        using var asked = new Asked();
        await using (var history = asked.Open())
            await history.Writer.SaveHealthAsync(Report, CancellationToken.None);
        asked.Configure("sawedge.json", ("timeZone", "\"America/Chicago\""));

        Assert.Contains("The figures are those of 2026-03-09 06:59.", asked.Run("status").Output);
    }

    [Fact]
    public async Task Status_NoGatewayRuns_SaysSo_WithTheFiguresOfItsLastReport()
    {
        using var asked = new Asked();
        await using (var history = asked.Open())
            await history.Writer.SaveHealthAsync(Report, CancellationToken.None);

        var (code, text, _) = asked.Run("status");

        Assert.Equal((2, "No gateway runs on this folder."), (code, text[0]));
        Assert.Contains("The figures are those of 2026-03-09 12:59.", text);
        Assert.Contains(text, line => line.StartsWith("  gateway ", StringComparison.Ordinal) && line.EndsWith(" 120 MB of memory, 2.5 % of one core", StringComparison.Ordinal));
        var (only, line, _) = asked.Run("status", "--gateway");
        Assert.Equal((2, "No gateway runs on this folder."), (only, Assert.Single(line)));
    }

    [Fact]
    public async Task Status_AGatewayThatDoesNotReport_Hangs_UnlessItJustStarted()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await history.Writer.SaveHealthAsync(Report with { At = Asked.Now.AddHours(-5) }, CancellationToken.None);

        Started(asked, TimeSpan.FromSeconds(30));
        Assert.Equal("The gateway is starting; nothing is wrong so far.", asked.Done("status")[0]);
        Assert.Equal(["The gateway is starting."], asked.Done("status", "--gateway"));

        Started(asked, TimeSpan.FromHours(9));
        var (code, text, _) = asked.Run("status");
        Assert.Equal((2, "A gateway runs and has not reported for 5 h 0 min: it hangs, or its disk refuses; see its log."), (code, text[0]));
        Assert.Equal(2, asked.Run("status", "--gateway").Code);
    }

    [Fact]
    public void Status_WithoutAHistory_SaysWhatIsMissing()
    {
        using var asked = new Asked();
        Assert.Contains(asked.Data, asked.Refused("status"), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(-5, "0 s")]
    [InlineData(20.4, "20 s")]
    [InlineData(119, "119 s")]
    [InlineData(200, "3 min")]
    [InlineData(15_120, "4 h 12 min")]
    [InlineData(273_600, "3 d 4 h")]
    public void Spans_AreSaidInTwoUnitsAtMost(double seconds, string expected) => Assert.Equal(expected, SpanText.Of(TimeSpan.FromSeconds(seconds)));

    // The start is told by when the owner wrote its mark.
    private static void Started(Asked asked, TimeSpan ago) => File.SetLastWriteTimeUtc(Path.Combine(asked.Data, "gateway.pid"), (Asked.Now - ago).UtcDateTime);
}
