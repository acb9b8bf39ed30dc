using System.Text.Json.Nodes;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>What good alarms become.</summary>
public class AlarmAcceptedTests
{
    private static readonly (string Path, string? Json) Calendar = ("calendar", "{ \"shifts\": [ { \"name\": \"early\", \"from\": \"06:00\", \"to\": \"14:00\" } ] }");

    [Fact]
    public void Load_NoAlarms_TheProgramsOwnRulesHoldAndNobodyIsTold()
    {
        var options = Sample.Load(Sample.With("", null)).Options();
        Assert.Equal(DefaultRules.All, options.Alarms.Rules);
        Assert.Empty(options.Alarms.Contacts);
        Assert.Empty(options.Alarms.Channels);
        Assert.Null(options.Alarms.AnswerLinks);
        Assert.Equal((TimeZoneInfo.Local, DisplayUnits.Metric, null), (options.TimeZone, options.Units, options.Saws[0].Group));
    }

    [Fact]
    public void Load_ThePlant_HasAZoneUnitsAndGroups()
    {
        var options = Sample.Load(Sample.With(("timeZone", "\"America/Chicago\""), ("units", "\"inch\""), ("saws[1].group", "\"bay 2\""))).Options();
        Assert.Equal(("America/Chicago", DisplayUnits.Inch, "bay 2"), (options.TimeZone.Id, options.Units, options.Saws[1].Group));
    }

    [Fact]
    public void Load_ASignalRule_IsConvertedToTheVariablesUnit()
    {
        var rule = Rule("motor hot");
        Assert.Same(AlarmVariables.Of(AlarmTopic.Signal, "motor_load"), rule.Variable);
        Assert.Equal((AlarmComparison.Above, 7, 6.5), (rule.Test.Comparison, rule.Test.Limit, rule.Test.ClearLimit));
        Assert.Equal((TimeSpan.FromSeconds(30), TimeSpan.Zero, SawStates.Cutting), (rule.OnDelay, rule.OffDelay, rule.While));
        Assert.Equal((AlarmSeverity.Medium, false, false), (rule.Severity, rule.Latch, rule.Silences));
        Assert.Null(rule.Subjects);
        Assert.Null(rule.Hours);
        Assert.Equal("{subject}: motor load {value}, limit {limit}", rule.Text.Source);
        Assert.Equal(AlarmCaution.LockOut, rule.Caution);
    }

    [Theory]
    [InlineData("signal", "head_position", "\"4 in\"", 101.6)]
    [InlineData("signal", "motor_load", "\"7.5 hp\"", 5.592749)]
    [InlineData("signal", "part_count", "1000", 1000)]
    [InlineData("cycle", "cut_time_ratio", "1.5", 1.5)]
    [InlineData("cycle", "cut_time_s", "\"2 min\"", 120)]
    [InlineData("cycle", "cut_area_cm2", "\"10 in2\"", 64.516)]
    [InlineData("cycle", "blade_area_m2", "\"10000 cm2\"", 1)]
    [InlineData("cycle", "cutting_rate_cm2_min", "\"8 in2/min\"", 51.6128)]
    [InlineData("cycle", "mean_descent_mm_min", "\"2 in/min\"", 50.8)]
    [InlineData("cycle", "mean_load_kw", "\"900 W\"", 0.9)]
    [InlineData("cycle", "cutting_energy_kj", "\"1 Wh\"", 3.6)]
    [InlineData("cycle", "specific_energy_j_mm3", "\"3 J/mm3\"", 3)]
    [InlineData("cycle", "load_score", "3.5", 3.5)]
    [InlineData("blade", "rise", "\"40 %\"", 0.4)]
    [InlineData("blade", "area", "\"2 m2\"", 2)]
    [InlineData("oee", "oee", "\"60 percent\"", 0.6)]
    [InlineData("communication", "stale", "\"1.5 min\"", 90)]
    [InlineData("gateway", "disk_free", "\"1.5 GB\"", 1500)]
    [InlineData("gateway", "history_budget", "\"105 %\"", 1.05)]
    [InlineData("gateway", "points_refused", "10", 10)]
    public void Load_ALimit_IsConvertedToTheVariablesUnit(string topic, string variable, string limit, double expected)
    {
        var rule = Only($$"""{ "name": "x", "on": "{{topic}}", "{{topic}}": "{{variable}}", "above": {{limit}} }""");
        Assert.Equal(expected, rule.Test.Limit, 6);
        Assert.Equal(rule.Test.Limit, rule.Test.ClearLimit);
    }

    /// <summary>Each variable there is can be written: its unit is known, and a limit within its range is taken.</summary>
    [Fact]
    public void Load_EveryVariable_CanBeInARule()
    {
        var machine = ("saws[0].machine", "{ \"ratedPower\": \"7.5 hp\" }");
        foreach (var variable in AlarmVariables.All.Where(variable => variable is not { Topic: AlarmTopic.Signal, Name: "blade_speed" or "cycle_active" or "blade_running" or "fault_code" or "bar_id" or "blade_id" or "blade_deviation" or "scrap_count" } and not { Name: "mean_blade_speed_m_min" }))
        {
            var condition = variable.Kind switch
            {
                AlarmValueKind.Flag => "",
                AlarmValueKind.Text => $", \"isNot\": \"{variable.Name switch { "outcome" => "completed", "likely_cause" => "drag", _ => "manual" }}\"",
                _ => variable.Unit switch
                {
                    "" => ", \"above\": 1.5",
                    "share" => ", \"above\": \"50 %\"",
                    _ => $", \"above\": \"1.5 {variable.Unit}\"",
                },
            };
            var topic = variable.Topic.ToName();
            var json = $$"""[ { "name": "x", "on": "{{topic}}", "{{topic}}": "{{variable.Name}}"{{condition}} } ]""";
            var loaded = Sample.Load(Sample.With(machine, Calendar, ("alarms", $"{{ \"rules\": {json} }}")));
            Assert.True(loaded.Findings.Count == 0, $"{json}: {string.Join("; ", loaded.Lines())}");
            Assert.Equal(variable, loaded.Options().Alarms.Rules[^1].Variable);
            var expected = variable.Unit == "share" ? 0.5 : variable.Kind == AlarmValueKind.Number ? 1.5 : double.NaN;
            Assert.Equal(expected, loaded.Options().Alarms.Rules[^1].Test.Limit, 9);
        }
    }

    [Fact]
    public void Load_Cuts_TakeTheirDefaultsFromWhatIsWritten()
    {
        Assert.Equal(new CutCount(3, 5, 3), Rule("slow cuts").Cuts);
        Assert.Equal(new CutCount(2, 2, 1), Rule("stalled").Cuts);
        Assert.Equal(CutCount.Each, Rule("broken off").Cuts);
        Assert.Equal(new CutCount(1, 4, 9), Rule("stalled", ("alarms.rules[1].cuts", "{ \"least\": 1, \"of\": 4, \"clearAfter\": 9 }")).Cuts);
    }

    [Fact]
    public void Load_WordsAndFlags_AreComparedEitherWay()
    {
        var rule = Rule("broken off");
        Assert.Equal(AlarmComparison.Is, rule.Test.Comparison);
        Assert.Equal(["aborted", "interrupted"], rule.Test.Words);
        Assert.True(double.IsNaN(rule.Test.Limit));

        rule = Only("""{ "name": "x", "on": "cycle", "cycle": "outcome", "isNot": "completed" }""");
        Assert.Equal(AlarmComparison.IsNot, rule.Test.Comparison);
        Assert.Equal(["completed"], rule.Test.Words);

        foreach (var (written, expected) in new[] { ("", AlarmComparison.Is), (", \"is\": true", AlarmComparison.Is), (", \"is\": false", AlarmComparison.IsNot), (", \"isNot\": true", AlarmComparison.IsNot), (", \"isNot\": false", AlarmComparison.Is) })
            Assert.Equal(expected, Only($$"""{ "name": "x", "on": "signal", "signal": "cutting"{{written}} }""").Test.Comparison);
    }

    [Fact]
    public void Load_WhatABelowRuleClearsAt_LiesAbove()
    {
        Assert.Equal((0.4, 0.5, (TimeSpan?)TimeSpan.FromHours(8)), (Rule("low availability").Test.Limit, Rule("low availability").Test.ClearLimit, Rule("low availability").Over));
        Assert.Equal(2250, Rule("disk", ("alarms.rules[7].deadband", "\"250 MB\"")).Test.ClearLimit, 6);
    }

    [Fact]
    public void Load_SawsAndGroups_AreTakenTogether()
    {
        Assert.Equal(["saw-1", "saw-2"], Rule("motor hot", ("alarms.rules[0].saws", "[ \"saw-2\" ]"), ("alarms.rules[0].groups", "[ \"bay-1\" ]")).Subjects!.Order());
        Assert.Equal(["saw-1"], Rule("motor hot", ("alarms.rules[0].groups", "[ \"bay-1\" ]")).Subjects!);
        Assert.Equal(["plc"], Rule("line dead", ("alarms.rules[6].names", "[ \"plc\" ]")).Subjects!);
    }

    [Fact]
    public void Load_Hours_AreMeantInThePlantsZone()
    {
        var hours = Rule("motor hot", ("timeZone", "\"Asia/Tokyo\""), ("alarms.rules[0].hours", "[ { \"days\": [ \"fri\", \"sat\" ], \"from\": \"22:30\", \"to\": \"06:00\" }, { \"to\": \"24:00\" } ]")).Hours!;
        Assert.Equal("Asia/Tokyo", hours.Zone.Id);
        Assert.Equal([DayOfWeek.Friday, DayOfWeek.Saturday], hours.Spans[0].Days.Order());
        Assert.Equal((new TimeOnly(22, 30), new TimeOnly(6, 0)), (hours.Spans[0].From, hours.Spans[0].To));
        Assert.Equal((7, TimeOnly.MinValue, TimeOnly.MinValue), (hours.Spans[1].Days.Count, hours.Spans[1].From, hours.Spans[1].To));
    }

    [Fact]
    public void Load_ARuleOfTheSameName_TakesThePlaceOfTheProgramsOwn()
    {
        var rules = AlarmSample.Alarms(("alarms.rules[1].name", "\"stall\""), ("alarms.rules[1].severity", "\"low\""), ("alarms.withoutRules", "[ \"overload\", \"no_contact\" ]")).Rules;
        Assert.Equal(DefaultRules.All.Count - 2 + 7, rules.Count);
        Assert.Equal(AlarmSeverity.Low, Assert.Single(rules, rule => rule.Name == "stall").Severity);
        Assert.DoesNotContain(rules, rule => rule.Name is "overload" or "no_contact");
        Assert.Equal(rules.Count, rules.Select(rule => rule.Name).Distinct().Count());
    }

    [Fact]
    public void Load_WhatARuleDoesNotSay_IsSaidAsByTheProgramsOwn()
    {
        var own = DefaultRules.All.Single(rule => rule.Name == "stall");
        Assert.Equal((own.MayBe, own.Caution, "{subject}: {finding}"), (Rule("stalled").MayBe, Rule("stalled").Caution, Rule("stalled").Text.Source));
        Assert.Equal(("", AlarmCaution.LockOut), (Rule("slow cuts").MayBe, Rule("slow cuts").Caution));
        Assert.Equal(AlarmCaution.Wiring, Rule("line dead").Caution);
        Assert.Equal("", Rule("low availability").Caution);

        var rule = Rule("stalled", ("alarms.rules[1].caution", "false"), ("alarms.rules[1].mayBe", "\"Pinched.\""), ("alarms.rules[1].text", "\"{{{saw}}} {job}\""));
        Assert.Equal(("Pinched.", "", "{{{saw}}} {job}"), (rule.MayBe, rule.Caution, rule.Text.Source));
        Assert.Equal("Hot.", Rule("stalled", ("alarms.rules[1].caution", "\"Hot.\"")).Caution);
    }

    [Fact]
    public void Load_Contacts_AreWhatWasWritten()
    {
        var alarms = AlarmSample.Alarms(
            ("alarms.contacts[0].least", "\"medium\""),
            ("alarms.contacts[0].groups", "[ \"bay-1\" ]"),
            ("alarms.contacts[0].rules", "[ \"motor hot\", \"stall\" ]"),
            ("alarms.contacts[0].digest", "\"5 min\""),
            ("alarms.contacts[0].tellCleared", "true"),
            ("alarms.contacts[0].remindEvery", "\"2 h\""));
        var contact = alarms.Contacts[0];
        Assert.Equal(("maintenance", "mail", AlarmSeverity.Medium), (contact.Name, contact.Channel, contact.Least));
        // Whoever is told of a saw is told of the device that it comes from.
        Assert.Equal(["plc", "saw-1"], contact.Subjects!.Order());
        Assert.Equal(["motor hot", "stall"], contact.Rules!.Order());
        Assert.Equal((TimeSpan.FromMinutes(5), true, TimeSpan.FromHours(2), false), (contact.Digest, contact.TellCleared, contact.RemindEvery!.Value, contact.OnlyEscalated));
        Assert.Equal((TimeSpan.FromMinutes(30), "lead"), (contact.EscalateAfter!.Value, contact.EscalateTo));
        Assert.Equal(new Contact { Name = "lead", Channel = "hook", OnlyEscalated = true }, alarms.Contacts[1]);
    }

    [Fact]
    public void Load_Channels_AreWhatWasWritten()
    {
        using var folder = new TempFolder();
        File.WriteAllText(folder.File("ca.pem"), "");
        File.WriteAllText(folder.File("p"), "geheim\n");
        var alarms = Sample.Load(folder, AlarmSample.With(
            ("alarms.channels[0].user", "\"u\""),
            ("alarms.channels[0].passwordFile", "\"p\""),
            ("alarms.channels[0].authorityFile", "\"ca.pem\""),
            ("alarms.channels[1].secretFile", "\"p\""),
            ("alarms.channels[1].timeout", "\"3 s\""),
            ("alarms.channels[1].body", "\"{{ \\\"a\\\": \\\"x {title}\\\", \\\"b\\\": {value_number} }}\""),
            ("alarms.channels[1].giveUpAfter", "\"1 h\""),
            ("alarms.channels[2].root", "\"plant/saws\""))).Options().Alarms;

        var mail = Assert.IsType<EmailOptions>(alarms.Channels[0]);
        Assert.Equal(("mail", "mail.riverbend.example", 587, MailSecurity.StartTls, "u", "geheim", "saws@riverbend.example"), (mail.Name, mail.Host, mail.Port, mail.Security, mail.User, mail.Password, mail.From));
        Assert.Equal(folder.File("ca.pem"), mail.AuthorityFile);
        Assert.Equal(["maintenance@riverbend.example"], Assert.Single(mail.Recipients, entry => entry.Key == "maintenance").Value);
        var hook = Assert.IsType<WebhookOptions>(alarms.Channels[1]);
        Assert.Equal(("hook", "https://hooks.riverbend.example/saws?key=1", "geheim", null), (hook.Name, hook.Url.AbsoluteUri, hook.Secret, hook.Token));
        Assert.Equal((TimeSpan.FromSeconds(3), TimeSpan.FromHours(1)), (hook.Timeout, hook.GiveUpAfter));
        Assert.Equal(["title", "value_number"], hook.Body!.Names);
        Assert.Equal(new MqttChannelOptions { Name = "states", Broker = "hall", Root = "plant/saws" }, alarms.Channels[2]);
    }

    [Theory]
    [InlineData("starttls", 587)]
    [InlineData("tls", 465)]
    [InlineData("none", 25)]
    public void Load_AMailServersPort_FollowsItsProtection(string security, int port)
    {
        Assert.Equal(port, ((EmailOptions)AlarmSample.Alarms(("alarms.channels[0].security", $"\"{security}\"")).Channels[0]).Port);
        Assert.Equal(2525, ((EmailOptions)AlarmSample.Alarms(("alarms.channels[0].security", $"\"{security}\""), ("alarms.channels[0].port", "2525")).Channels[0]).Port);
    }

    [Fact]
    public void Load_AnswerLinks_AreWhatWasWritten()
    {
        var links = AlarmSample.Alarms(("alarms.answerLinks", "{ \"listen\": \"http://0.0.0.0:8087\", \"public\": \"https://saws.riverbend.example/\", \"validFor\": \"8 h\" }")).AnswerLinks;
        Assert.Equal(new AnswerLinkOptions { Listen = new Uri("http://0.0.0.0:8087"), Public = new Uri("https://saws.riverbend.example/"), ValidFor = TimeSpan.FromHours(8) }, links);
    }

    [Fact]
    public void Load_Variables_LieOverAlarms()
    {
        var alarms = Sample.Load(AlarmSample.With(), new Dictionary<string, string>
        {
            ["SAWEDGE_alarms__rules__0__above"] = "9 kW",
            ["SAWEDGE_alarms__rules__2__above"] = "1.75",
            ["SAWEDGE_alarms__rules__3__is"] = "partial",
            ["SAWEDGE_alarms__rules__1__caution"] = "false",
            ["SAWEDGE_alarms__channels__1__secret"] = "geheim",
        }).Options().Alarms;
        Assert.Equal((9, 1.75), (alarms.Rules.Single(rule => rule.Name == "motor hot").Test.Limit, alarms.Rules.Single(rule => rule.Name == "slow cuts").Test.Limit));
        Assert.Equal(["partial"], alarms.Rules.Single(rule => rule.Name == "broken off").Test.Words);
        Assert.Equal("", alarms.Rules.Single(rule => rule.Name == "stalled").Caution);
        Assert.Equal("geheim", ((WebhookOptions)alarms.Channels[1]).Secret);

        var second = Sample.Load(AlarmSample.With(), new Dictionary<string, string> { ["SAWEDGE_alarms__rules__3__is__1"] = "partial" }).Options().Alarms;
        Assert.Equal(["aborted", "partial"], second.Rules.Single(rule => rule.Name == "broken off").Test.Words);
    }

    /// <summary>The examples of the documentation are read as they stand there.</summary>
    [Fact]
    public void Documentation_ItsAlarms_AreGood()
    {
        var options = Documented("alarms.md", "## Rules of a plant");
        Assert.Equal(DefaultRules.All.Count - 1 + 3, options.Alarms.Rules.Count);
    }

    [Fact]
    public void Documentation_ItsCalendar_IsGood()
    {
        var options = Documented("time-and-oee.md", "# Time and OEE");
        Assert.Equal(("America/Chicago", 1, TimeSpan.FromMinutes(3)), (options.Calendar!.Calendar.Zone.Id, options.Calendar.Calendar.Plan.PlannedStops.Count, options.Calendar.Settings.ShortStop));
        Assert.Equal(new Uri("http://127.0.0.1:8080"), options.Http!.Listen);
    }

    private static GatewayOptions Documented(string page, string heading)
    {
        var lines = File.ReadAllLines(Path.Combine(SchemaTests.Root, "deploy", "docs", page));
        var block = lines.SkipWhile(line => line != heading).SkipWhile(line => !line.StartsWith("    ", StringComparison.Ordinal)).TakeWhile(line => line.StartsWith("    ", StringComparison.Ordinal));
        var example = JsonNode.Parse($"{{{string.Join('\n', block)}}}")!.AsObject();
        var loaded = Sample.Load(Sample.With([.. example.Select(member => (member.Key, member.Value?.ToJsonString()))]));
        Assert.Empty(loaded.Findings);
        return loaded.Options();
    }

    private static AlarmRule Rule(string name, params (string Path, string? Json)[] changes) => AlarmSample.Alarms(changes).Rules.Single(rule => rule.Name == name);

    private static AlarmRule Only(string json) => Sample.Load(Sample.With(Calendar, ("alarms", $"{{ \"rules\": [ {json} ] }}"))).Options().Alarms.Rules[^1];
}
