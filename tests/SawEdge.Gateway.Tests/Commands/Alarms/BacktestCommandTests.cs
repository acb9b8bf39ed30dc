using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Commands.Alarms;

public sealed partial class BacktestCommandTests
{
    private const string Contacts = """
        "channels": [ { "name": "hook", "kind": "webhook", "url": "https://riverbend.example/hook" } ],
        "contacts": [ { "name": "shift lead", "channel": "hook" }, { "name": "head", "channel": "hook", "least": "high" } ]
        """;

    [Fact]
    public async Task OverTheHistory_SaysWhatWouldHaveCome_AndHowThatFitsWhatPeopleFound()
    {
        using var asked = new Asked();
        var file = asked.Configure("tried.json", ("alarms", $$"""{ {{Contacts}}, "rules": [ { "name": "motor hot", "on": "signal", "signal": "motor_load", "above": "6 kW" } ] }"""));
        await StoreAsync(asked);

        var said = WithoutSpeed(asked.RunRaw("alarm", "backtest", "--config", file).Output);

        Assert.Equal($"{file} over the history in {asked.Data}: 2026-03-02 07:00 to 2026-03-02 08:19 (1.3 h), 2 saws, 80 cycles.", string.Join(' ', said.TakeWhile(line => !line.StartsWith("Nothing", StringComparison.Ordinal)).Select(line => line.Trim())));
        Assert.Contains("Nothing was sent or stored. People were taken to acknowledge and reset each alarm within 15 min.", said);
        Assert.Equal(
            """

            Alarms
              would have come                     4 alarms
              a day, all saws                     72.38
              a day and saw                       36.19
              worst 10 minutes                    2 alarms, from 2026-03-02 07:25

            By rule                           alarms     a day  confirmed  rejected  not judged
              blade_gone                           0         0          0         0           0
              stall                                1     18.09          0         0           1
              overload                             0         0          0         0           0
              no_contact                           0         0          0         0           0
              load_after_breakthrough              0         0          0         0           0
              frozen_signal                        0         0          0         0           0
              unusual_cut                          3     54.28          1         1           1
              blade_due                            0         0          0         0           0
              blade_dull                           0         0          0         0           0
              all                                  4     72.38          1         1           2

            By saw                            alarms     a day  confirmed  rejected  not judged
              north                                2     36.19          1         1           0
              quay                                 2     36.19          0         0           2

            Messages by contact             messages     a day  reminders  escalated
              shift lead                           4     72.38          0          0
              head                                 1     18.09          0          0

            Against what people found
              confirmed alarms of that time       2, of which 1 would have come
              rejected alarms of that time        1, of which 1 would have come again
              Right, and would NOT have come:
                #3 2026-03-02 07:50 quay, blade_gone: The motor takes 5.5 kW, more than 4 kW.
              Wrong, and would have come again:
                #2 2026-03-02 08:01 north, unusual_cut: The motor takes 5.5 kW, more than 4 kW. (raised by
                   unusual_cut)
              1 judged alarm of that time cannot be tried on this: another kind of rule, or not about a saw
              in it.

            Not tried
              On signals, which need a recording (--input): controller_fault and motor hot.
            """,
            string.Join('\n', said.SkipWhile(line => line.Length > 0).TakeWhile(line => !line.Contains("looked at live", StringComparison.Ordinal))));
    }

    [Fact]
    public async Task AgainstAnother_ShowsBothSideBySide_AndWhereTheyDiffer()
    {
        using var asked = new Asked();
        var other = asked.Configure("other.json", ("alarms", """{ "withoutRules": [ "unusual_cut" ], "rules": [ { "name": "slow", "on": "cycle", "cycle": "cut_time_s", "above": "80 s" } ] }"""));
        await StoreAsync(asked);

        var said = asked.Done("alarm", "backtest", "--against", other);

        Assert.Contains(Row("rule unusual_cut", "3", "no such rule"), said);
        Assert.Contains(Row("rule slow", "no such rule", "1"), said);
        Assert.Contains(Row("confirmed alarms that would have come", "1 of 2", "1 of 2"), said);
        Assert.Contains(Row("rejected alarms that would have come again", "1 of 1", "0 of 1"), said);
        var differ = said[Array.IndexOf(said, "Where they differ on what people found")..];
        Assert.Equal("  Right, and only A would have raised it:", differ[1]);
        Assert.StartsWith("    #1 2026-03-02 07:11 north, unusual_cut:", differ[2], StringComparison.Ordinal);
        Assert.Contains("  Right, and only B would have raised it:", differ);
        Assert.Contains(differ, line => line.StartsWith("    #3 2026-03-02 07:50 quay, blade_gone:", StringComparison.Ordinal));
        Assert.Contains("  Wrong, and only A would have raised it again:", differ);
    }

    [Fact]
    public async Task AsJsonAndAsATable_HoldEachAlarm()
    {
        using var asked = new Asked();
        await StoreAsync(asked);

        using var json = JsonDocument.Parse(string.Join('\n', asked.Done("alarm", "backtest", "--json")));
        var result = Assert.Single(json.RootElement.EnumerateArray());
        Assert.Equal((4, 80, 2), (result.GetProperty("alarms").GetInt32(), result.GetProperty("cycles").GetInt32(), result.GetProperty("worst_ten_minutes").GetInt32()));
        Assert.Equal([1, 2, 3], result.GetProperty("judged").EnumerateArray().Select(judged => judged.GetProperty("number").GetInt32()).Order());
        Assert.Contains(result.GetProperty("rules_not_tried").EnumerateArray(), rule => rule.GetString() == "controller_fault");

        var table = asked.Done("alarm", "backtest", "--csv");
        Assert.Equal("rules,rule,saw,severity,raised_at,cleared_at,value,limit,unit,text,cause,cycle_id,activations,announced,verdict", table[0]);
        Assert.Equal(5, table.Length);
        Assert.StartsWith($"{asked.ConfigFile},unusual_cut,north,medium,2026-03-02T06:11:35.000Z,2026-03-02T06:17:35.000Z,4,3.1,,", table[1], StringComparison.Ordinal);
        Assert.EndsWith(",north-000005,1,1,confirmed", table[1], StringComparison.Ordinal);
    }

    [Fact]
    public async Task OfATime_LooksAtThatAlone()
    {
        using var asked = new Asked();
        await StoreAsync(asked);

        using var json = JsonDocument.Parse(string.Join('\n', asked.Done("alarm", "backtest", "--json", "--from", "2026-03-02 07:20", "--to", "2026-03-02 07:40")));
        var result = json.RootElement[0];
        Assert.Equal((20, 2), (result.GetProperty("cycles").GetInt32(), result.GetProperty("alarms").GetInt32()));
        Assert.Equal("2026-03-02T06:20:00.000Z", result.GetProperty("from").GetString());
        Assert.Contains("nothing lies in that time", string.Join(' ', asked.Done("alarm", "backtest", "--from", "2026-04-02 07:20")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task NobodyAnswers_RemindersFallDue_AndNoAlarmComesTwice()
    {
        using var asked = new Asked();
        var file = asked.Configure("tried.json", ("alarms", """
            { "channels": [ { "name": "hook", "kind": "webhook", "url": "https://riverbend.example/hook" } ],
              "contacts": [ { "name": "shift lead", "channel": "hook", "remindEvery": "10 min" } ] }
            """));
        await StoreAsync(asked);

        int[] Messages(string answer)
        {
            var run = asked.RunRaw("alarm", "backtest", "--config", file, "--json", "--answer-after", answer);
            using var json = JsonDocument.Parse(string.Join('\n', run.Output));
            var contact = json.RootElement[0].GetProperty("contacts")[0];
            return [json.RootElement[0].GetProperty("alarms").GetInt32(), contact.GetProperty("reminders").GetInt32()];
        }

        // North's first alarm is never answered, so that its second is the same one come again.
        Assert.Equal(3, Messages("never")[0]);
        Assert.True(Messages("never")[1] > 5);
        Assert.Equal([4, 0], Messages("5 min"));
    }

    [Fact]
    public async Task OverARecording_TriesRulesOnSignals_ThroughTheLiveCode()
    {
        using var asked = new Asked();
        var file = asked.Configure("tried.json", ("alarms", """{ "rules": [ { "name": "motor hot", "on": "signal", "signal": "motor_load", "above": "6 kW", "onDelay": "2 s" } ] }"""));
        var recording = asked.Beside("north.csv");
        var text = new StringBuilder("time,saw,head_position,motor_load,cutting\n");
        for (var i = 0; i < 600; i++)
        {
            // 2.1 s above the limit is enough, 1.9 s is not.
            var load = i is (>= 100 and < 122) or (>= 300 and < 319) ? 6.5 : 1;
            text.Append(CultureInfo.InvariantCulture, $"{Cycles.Start.AddMilliseconds(100 * i).UtcDateTime:yyyy-MM-dd'T'HH:mm:ss.fff'Z'},north,200,{load},false\n");
        }

        await File.WriteAllTextAsync(recording, text.ToString());

        var (code, said, error) = asked.RunRaw("alarm", "backtest", "--config", file, "--input", recording);

        Assert.Equal((0, ""), (code, string.Join('\n', error)));
        Assert.Contains("  would have come                     1 alarm", said);
        Assert.Contains("600 frames", string.Join(' ', said), StringComparison.Ordinal);
        Assert.Contains(said, line => line.StartsWith("  motor hot                            1 ", StringComparison.Ordinal));
        Assert.DoesNotContain(said, line => line.Contains("need a recording", StringComparison.Ordinal));
        var table = asked.RunRaw("alarm", "backtest", "--config", file, "--input", recording, "--csv").Output;
        Assert.Contains(",motor hot,north,medium,2026-03-02T06:00:12.000Z,2026-03-02T06:00:12.200Z,6.5,6,kW,", Assert.Single(table[1..]), StringComparison.Ordinal);
    }

    public static TheoryData<string[], string> Wrong => new()
    {
        { ["--json", "--csv"], "--json and --csv exclude each other." },
        { ["--input", "x.csv", "--anew"], "--anew is for the history; from recordings (--input) the load score is always computed." },
        { ["--jobs", "x.csv"], "--jobs goes with --input; the history holds the jobs and saws of its cuts." },
        { ["--answer-after", "soon"], "--answer-after 'soon' is no span of time; write for example \"15 min\" or \"1 h\", or never." },
        { ["--from", "2026-03-03 07:00", "--to", "2026-03-02 07:00"], "--from '2026-03-03 07:00' is not before --to '2026-03-02 07:00'." },
        { ["--input", "there-is-none.csv", "--jobs", "there-is-none.jobs"], "--jobs there-is-none.jobs: there is no such file." },
    };

    [Theory]
    [MemberData(nameof(Wrong))]
    public async Task WrongInput_IsOneLineThatSaysWhatWouldBeRight(string[] arguments, string expected)
    {
        using var asked = new Asked();
        await StoreAsync(asked);
        Assert.Equal(expected, asked.Refused(["alarm", "backtest", .. arguments]));
        var (code, _, error) = asked.RunRaw("alarm", "backtest", "--data", asked.Data);
        Assert.Equal((1, "--data alone names no rules; name the configuration with --config as well."), (code, Assert.Single(error)));
    }

    // Forty cuts on each of two saws. North's 5th and 30th are unusual, the first of which people confirmed and the second rejected;
    // quay's 12th is unusual and its 13th stalled. Of what was confirmed at quay around its 25th no figure tells but a long cut.
    private static async Task StoreAsync(Asked asked)
    {
        await using var history = asked.Open();
        foreach (var saw in new[] { "north", "quay" })
        {
            for (var i = 0; i < 40; i++)
            {
                var score = (saw, i) is ("north", 5 or 30) or ("quay", 12) ? 4 : 0.5;
                var record = Cycles.Make(saw, i) with { CutTimeS = (saw, i) is ("quay", 24) ? 95 : 75.8, LoadScore = score };
                var stall = Evidences.Finding with { At = record.StartedAt.AddSeconds(20) };
                var assessment = Evidences.Assessment(score) with { Wear = null, Causes = [], Findings = (saw, i) is ("quay", 13) ? [stall] : [] };
                await history.Writer.AppendAsync(new FinishedCycle { Record = record, Assessment = assessment }, CancellationToken.None);
            }
        }

        Alarm Judged(long number, string saw, string rule, int cut, AlarmVerdict verdict) => Occurrences.Make(number, saw, rule) with
        {
            RaisedAt = Cycles.Start.AddMinutes(2 * cut).AddSeconds(rule == "unusual_cut" ? 95 : 0),
            CycleId = rule == "unusual_cut" ? $"{saw}-{cut:D6}" : null,
            Verdict = verdict,
        };
        foreach (var alarm in new[]
        {
            Judged(1, "north", "unusual_cut", 5, AlarmVerdict.Confirmed), Judged(2, "north", "unusual_cut", 30, AlarmVerdict.Rejected),
            Judged(3, "quay", "blade_gone", 25, AlarmVerdict.Confirmed), Judged(4, "north", "saw_silent", 5, AlarmVerdict.Confirmed),
        })
            await AlarmLookingTests.AppendAsync(history, Occurrences.Event(alarm, AlarmEventKind.Confirmed, 90, AlarmState.Unacknowledged, "Ada"));
    }

    private static string Row(string name, string one, string other) => $"  {name,-44}{one,18}{other,18}";

    private static string[] WithoutSpeed(string[] said) => [.. said.Where(line => !Speed().IsMatch(line))];

    [GeneratedRegex("^It took ")]
    private static partial Regex Speed();
}
