using System.Text.Json;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed class AlarmLookingTests
{
    [Fact]
    public async Task List_ShowsWhatIsOpen_TheLatestFirst()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await StoreAsync(history);

        Assert.Equal(
            """
            #3 quay: blade_gone (medium), 2026-03-02 07:03
                The load fell to idle while the head went on down inside the stock.
                F: gone since 2026-03-02 07:04, acknowledged by Ada at 2026-03-02 07:05; it stays until it
                is reset
                confirmed: it was right
            #1 north: motor_load_high (high), 2026-03-02 07:01
                The motor takes 5.5 kW, more than 4 kW.
                B: active, not acknowledged

            2 open alarms (1 high, 1 medium), 1 not acknowledged.
            """,
            string.Join('\n', asked.Done("alarm", "list")));
        Assert.Equal("1 open alarm (1 medium), 0 not acknowledged.", asked.Done("alarm", "list", "--saw", "quay")[^1]);
        Assert.Equal(["No alarm is open."], asked.Done("alarm", "list", "--rule", "stall"));
    }

    [Fact]
    public async Task List_All_ShowsClosedOnesOfATimeToo()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await StoreAsync(history);

        var all = asked.Done("alarm", "list", "--all");
        Assert.Contains("#2 north: motor_load_high (high), 2026-03-02 07:02", all);
        Assert.Contains("    A: closed, gone since 2026-03-02 07:03", all);
        Assert.Equal("3 alarms, the latest first.", all[^1]);
        Assert.Equal("1 alarm, the latest first.", asked.Done("alarm", "list", "--all", "--from", "2026-03-02 07:02", "--to", "2026-03-02 07:03")[^1]);
        Assert.Equal("There is no such alarm.", asked.Done("alarm", "list", "--all", "--to", "2026-03-02 07:00")[^1]);
    }

    [Fact]
    public async Task List_Json_GivesEveryField_NullWhereNotKnown()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await StoreAsync(history);

        using var json = JsonDocument.Parse(string.Join('\n', asked.Done("alarm", "list", "--json")));
        var (latch, active) = (json.RootElement[0], json.RootElement[1]);
        Assert.Equal(2, json.RootElement.GetArrayLength());
        Assert.Equal(3, latch.GetProperty("number").GetInt64());
        Assert.Equal(("latched_acknowledged", "F", "confirmed"), (latch.GetProperty("state").GetString(), latch.GetProperty("state_letter").GetString(), latch.GetProperty("verdict").GetString()));
        Assert.Equal(JsonValueKind.Null, latch.GetProperty("value").ValueKind);
        Assert.Equal("2026-03-02T06:04:00.000Z", latch.GetProperty("cleared_at").GetString());
        Assert.Equal((5.5, 4, "kW"), (active.GetProperty("value").GetDouble(), active.GetProperty("limit").GetDouble(), active.GetProperty("unit").GetString()));
        Assert.Equal(JsonValueKind.Null, active.GetProperty("verdict").ValueKind);
    }

    [Fact]
    public async Task Show_SaysAllOfOneAlarm_WithItsCutAndItsCaution()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        await StoreAsync(history);
        await history.Writer.AppendAsync(Evidences.Row(Cycles.Make("quay", 1)), CancellationToken.None);

        var said = asked.Done("alarm", "show", "#3", "--ascii");

        Assert.Equal(
            """
            Alarm #3: quay, blade_gone (medium)
            The load fell to idle while the head went on down inside the stock.

              state                               F: gone since 2026-03-02 07:04, acknowledged by Ada at
                                                  2026-03-02 07:05; it stays until it is reset
              raised                              2026-03-02 07:03 (2026-03-02 06:03:00Z)
              came                                2 times
              likely cause                        broken blade
              may be                              The blade may have broken.
              what a person found                 confirmed: it was right

            What happened
              2026-03-02 07:03  raised [A to B]
              2026-03-02 07:04  condition gone [B to E]
              2026-03-02 07:05  acknowledged by Ada: on my way [E to F]
              2026-03-02 07:05  confirmed by Ada: two teeth gone

            The cut
              cycle                               quay-000001
            """,
            string.Join('\n', said[..19]));
        Assert.Contains("Load along the depth", said);
        Assert.Contains("'sawedge explain quay-000001' gives every number behind it.", said);
        Assert.Equal("Stop, isolate, lock out and tag out.", said[^1]);
        Assert.Equal("There is no alarm 9; the latest is 3, and 'sawedge alarm list --all' lists them.", asked.Refused("alarm", "show", "9"));
    }

    [Fact]
    public async Task Journal_AsATable_IsTheSameBytesEachTime_AndHarmlessInASpreadsheet()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        var alarm = Occurrences.Make(1) with { Text = "job =cmd|' /C calc'!A0, 5.5 kW", CycleId = "=1+2\"" };
        await AppendAsync(history, Occurrences.Event(alarm), Occurrences.Event(alarm, AlarmEventKind.Commented, 5, AlarmState.Unacknowledged, "Ada", "-2 teeth"));

        var printed = asked.Done("alarm", "journal");
        Assert.Equal(
            [
                "id,at,event,rule,subject_kind,subject,state_before,state_after,who,note,alarm,severity,raised_at,value,limit,unit,text,cause,cycle_id,activations,verdict",
                "1,2026-03-02T06:01:00.000Z,raised,motor_load_high,saw,north,normal,unacknowledged,,,1,high,2026-03-02T06:01:00.000Z,5.5,4,kW,\"job =cmd|' /C calc'!A0, 5.5 kW\",,\"'=1+2\"\"\",1,",
                "2,2026-03-02T06:01:05.000Z,commented,motor_load_high,saw,north,unacknowledged,unacknowledged,Ada,\"'-2 teeth\",1,high,2026-03-02T06:01:00.000Z,5.5,4,kW,\"job =cmd|' /C calc'!A0, 5.5 kW\",,\"'=1+2\"\"\",1,",
            ],
            printed);

        var file = asked.Beside("journal.csv");
        await File.WriteAllTextAsync(file, "what was there before");
        Assert.Equal([$"2 events written to {file}"], asked.RunRaw("alarm", "journal", "--data", asked.Data, "--out", file).Output);
        Assert.Equal(string.Join('\n', printed) + "\n", await File.ReadAllTextAsync(file));
        Assert.False(File.Exists(file + ".unfinished"));
    }

    [Fact]
    public async Task Journal_AsJsonLines_HoldsOneObjectALine_WithinATime()
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        foreach (var (index, hostile) in Occurrences.Hostile.Index())
        {
            var alarm = Occurrences.Make(index + 1) with { Text = hostile };
            await AppendAsync(history, Occurrences.Event(alarm, note: hostile));
        }

        var lines = asked.Done("alarm", "journal", "--format", "jsonl");
        Assert.Equal(Occurrences.Hostile.Length, lines.Length);
        for (var i = 0; i < lines.Length; i++)
        {
            using var json = JsonDocument.Parse(lines[i]);
            Assert.Equal(Occurrences.Hostile[i], json.RootElement.GetProperty("text").GetString());
            Assert.Equal(Occurrences.Hostile[i], json.RootElement.GetProperty("note").GetString());
            Assert.Equal(i + 1, json.RootElement.GetProperty("alarm").GetInt64());
        }

        Assert.Equal(lines[1..3], asked.Done("alarm", "journal", "--format", "jsonl", "--from", "2026-03-02T06:02:00Z", "--to", "2026-03-02T06:04:00Z"));
    }

    public static TheoryData<string[], string> Wrong => new()
    {
        { ["alarm", "show", "three"], "'three' is no number of an alarm; 'sawedge alarm list' shows them." },
        { ["alarm", "show", "0"], "'0' is no number of an alarm; 'sawedge alarm list' shows them." },
        { ["alarm", "show", "4"], "There is no alarm 4; none was ever raised here." },
        { ["alarm", "list", "--from", "2026-03-02 07:00"], "--from and --to go with --all; without it, all that is open is listed, however old." },
        { ["alarm", "list", "--rule", "stal"], "There is no rule 'stal'; did you mean 'stall'?" },
        { ["alarm", "journal", "--from", "2026-03-03 07:00", "--to", "2026-03-02 07:00"], "--from '2026-03-03 07:00' is not before --to '2026-03-02 07:00'." },
        { ["alarm", "journal", "--out", "."], "--out .: this is a folder; name a file in it." },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public async Task WrongInput_IsOneLineThatSaysWhatWouldBeRight(string[] arguments, string expected)
    {
        using var asked = new Asked();
        await using var history = asked.Open();
        Assert.Equal(expected, asked.Refused(arguments));
    }

    [Fact]
    public void Rules_AreListedInWords_WithWhereTheyComeFrom()
    {
        using var asked = new Asked();
        var file = asked.Configure("rules.json", ("alarms", """
            { "rules": [
                { "name": "motor hot", "on": "signal", "signal": "motor_load", "above": "6 kW", "deadband": "0.5 kW", "onDelay": "30 s", "severity": "high", "while": [ "cutting" ], "saws": [ "north" ] },
                { "name": "stall", "on": "finding", "finding": "stall", "severity": "low", "latch": true } ] }
            """));

        var said = asked.RunRaw("alarm", "rules", "--config", file).Output;

        Assert.Equal("On signals, frame by frame", said[0]);
        var hot = Array.IndexOf(said, "  motor hot (high, the plant's rule)");
        Assert.Equal(
            ["      raised: motor load above 6 kW for 30 s while the saw is cutting", "      gone:   below 5.5 kW", "      only north"],
            said[(hot + 1)..(hot + 4)]);
        var stall = Array.IndexOf(said, "  stall (low, own rule, changed by the plant)");
        Assert.Equal(["      raised: stall: load high and the head not descending", "      stays until somebody resets it"], said[(stall + 1)..(stall + 3)]);
        Assert.Contains("  unusual_cut (medium, own rule)", said);
        Assert.Equal($"{DefaultRules.All.Count + 1} rules in force. 'sawedge alarm backtest' tries them on the past.", said[^1]);

        using var json = JsonDocument.Parse(string.Join('\n', asked.RunRaw("alarm", "rules", "--config", file, "--json").Output));
        var one = json.RootElement.EnumerateArray().Single(rule => rule.GetProperty("name").GetString() == "motor hot");
        Assert.Equal((6, 5.5, "kW", 30), (one.GetProperty("limit").GetDouble(), one.GetProperty("clear_limit").GetDouble(), one.GetProperty("unit").GetString(), one.GetProperty("on_delay_s").GetDouble()));
    }

    internal static Task AppendAsync(RunningHistory history, params AlarmEvent[] events) => history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = events }, CancellationToken.None);

    private static async Task StoreAsync(RunningHistory history)
    {
        var gone = Occurrences.Make(2) with { State = AlarmState.Normal, IsActive = false, ClearedAt = Occurrences.Start.AddMinutes(3) };
        var blade = Occurrences.Make(3, "quay", "blade_gone") with
        {
            Severity = AlarmSeverity.Medium,
            Value = double.NaN,
            Limit = double.NaN,
            Unit = "",
            Text = "The load fell to idle while the head went on down inside the stock.",
            Cause = "broken_blade",
            MayBe = "The blade may have broken.",
            Caution = "Stop, isolate, lock out and tag out.",
            CycleId = "quay-000001",
            Activations = 2,
        };
        var latched = blade with { State = AlarmState.LatchedUnacknowledged, IsActive = false, ClearedAt = Occurrences.Start.AddMinutes(4) };
        var acknowledged = latched with { State = AlarmState.LatchedAcknowledged, AcknowledgedAt = Occurrences.Start.AddMinutes(5), AcknowledgedBy = "Ada" };
        await AppendAsync(
            history,
            Occurrences.Event(Occurrences.Make(1)),
            Occurrences.Event(Occurrences.Make(2)),
            Occurrences.Event(gone, AlarmEventKind.Cleared, 60, AlarmState.Unacknowledged),
            Occurrences.Event(blade),
            Occurrences.Event(latched, AlarmEventKind.Cleared, 60, AlarmState.Unacknowledged),
            Occurrences.Event(acknowledged, AlarmEventKind.Acknowledged, 120, AlarmState.LatchedUnacknowledged, "Ada", "on my way"),
            Occurrences.Event(acknowledged with { Verdict = AlarmVerdict.Confirmed }, AlarmEventKind.Confirmed, 125, AlarmState.LatchedAcknowledged, "Ada", "two teeth gone"));
    }
}
