using System.Text.Json.Nodes;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Changes;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>What of a changed file a gateway takes over that runs, and how it is told.</summary>
public sealed class ConfigurationMergeTests : IDisposable
{
    private const string Alarms = """
        {
          "rules": [ { "name": "heavy", "on": "signal", "signal": "motor_load", "above": "5 kW" }, { "name": "slow", "on": "cycle", "cycle": "cut_time_ratio", "above": 1.5 } ],
          "channels": [ { "name": "mail", "kind": "email", "host": "mail.riverbend.example", "from": "saws@riverbend.example" }, { "name": "phone", "kind": "webhook", "url": "https://hooks.riverbend.example/saws" } ],
          "contacts": [ { "name": "maintenance", "channel": "mail", "to": ["maintenance@riverbend.example"] } ]
        }
        """;

    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Run_WithoutAMistake_TakesAllButWhatAStartTakes_AndTellsTheValues()
    {
        var (merged, told) = Change(("saws[0].interval", "\"250 ms\""), ("saws[1].group", "\"bay\""), ("alarms.rules[0].above", "\"6 kW\""), ("jobsFile", "\"jobs.csv\""), ("dataFolder", "\"elsewhere\""), ("http", """{ "listen": "http://127.0.0.1:9999" }"""), ("calendar", """{ "shifts": [ { "name": "early", "days": ["mon"], "from": "06:00", "to": "14:00" } ] }"""));
        Assert.Equal(
            [
                "saw 'saw-1' changed (interval: left out -> \"250 ms\")",
                "saw 'saw-2' changed (group: left out -> \"bay\")",
                "rule 'heavy' changed (above: \"5 kW\" -> \"6 kW\")",
                "calendar added",
                "jobsFile added",
            ],
            told);
        Assert.Equal(["dataFolder", "http.listen"], merged.ForNextStart.Order(StringComparer.Ordinal));
        Assert.Empty(merged.Kept);
        Assert.Equal((TimeSpan.FromMilliseconds(250), "bay", _folder.File("data"), 6.0), (merged.Options.Saws[0].Interval, merged.Options.Saws[1].Group, merged.Options.DataFolder, merged.Options.Alarms.Rules.Single(rule => rule.Name == "heavy").Test.Limit));
        Assert.NotNull(merged.Options.Calendar);
    }

    [Fact]
    public void Run_MistakesInSomeParts_LeavesThoseAsTheyWere_AndTakesTheRest()
    {
        var (merged, told) = Change(("saws[0].interval", "\"soon\""), ("saws[1].group", "\"bay\""), ("alarms.rules[1].above", "\"much\""), ("alarms.rules[0].above", "\"6 kW\""));
        Assert.Equal(["saw 'saw-2' changed (group: left out -> \"bay\")", "rule 'heavy' changed (above: \"5 kW\" -> \"6 kW\")"], told);
        Assert.Equal(["rule 'slow'", "saw 'saw-1'"], merged.Kept);
        Assert.Equal(1.5, merged.Options.Alarms.Rules.Single(rule => rule.Name == "slow").Test.Limit);
    }

    [Fact]
    public void Run_ANewSawWithAMistake_IsNotThere_AndTheOthersAre()
    {
        var (merged, told) = Change(("saws[2]", """{ "name": "saw-3", "like": "saw-1", "unit": 300 }"""), ("saws[3]", """{ "name": "saw-4", "like": "saw-1", "unit": 4 }"""));
        Assert.Equal(["saw 'saw-4' added"], told);
        Assert.Equal(["saw 'saw-3'"], merged.Kept);
        Assert.Equal(["saw-1", "saw-2", "saw-4"], merged.Options.Saws.Select(saw => saw.Name));
    }

    // Which of the two is meant, and whether the other is to go, nobody can tell.
    [Fact]
    public void Run_TwoSawsOfOneName_AllSawsStayAsTheyWere()
    {
        var (merged, told) = Change(("saws[1].name", "\"saw-1\""), ("alarms.rules[0].above", "\"6 kW\""));
        Assert.Equal(["rule 'heavy' changed (above: \"5 kW\" -> \"6 kW\")"], told);
        Assert.Contains("saws", merged.Kept);
        Assert.Equal(["saw-1", "saw-2"], merged.Options.Saws.Select(saw => saw.Name));
    }

    [Fact]
    public void Run_ADeviceThatIsGoneAndStillNamed_LeavesSawsAndConnectionsAsTheyWere()
    {
        var (merged, told) = Change(("devices", "[]"), ("saws[1].group", "\"bay\""), ("alarms.rules[0].above", "\"6 kW\""));
        Assert.Equal(["rule 'heavy' changed (above: \"5 kW\" -> \"6 kW\")"], told);
        Assert.Contains("devices", merged.Kept);
        Assert.Equal(("plc", null), (merged.Options.ModbusDevices.Single().Name, merged.Options.Saws[1].Group));
    }

    [Fact]
    public void Run_ASecret_IsToldWithoutItsValue()
    {
        var (merged, told) = Change(("brokers[0].user", "\"gateway\""), ("brokers[0].password", "\"hunter22\""));
        Assert.Equal(["broker 'hall' changed (user: left out -> \"gateway\"; password: another, not shown)"], told);
        Assert.Equal("hunter22", merged.Options.MqttBrokers[0].Password);
    }

    [Fact]
    public void Run_ContactsWhoseChannelOrAddressesOnlyAStartTakes_WaitForIt_OthersDoNot()
    {
        var (merged, told) = Change(
            ("alarms.contacts[0].to", """["other@riverbend.example"]"""),
            ("alarms.contacts[1]", """{ "name": "on call", "channel": "phone", "digest": "5 min" }"""),
            ("alarms.contacts[2]", """{ "name": "chief", "channel": "pager" }"""),
            ("alarms.channels[2]", """{ "name": "pager", "kind": "webhook", "url": "https://pager.riverbend.example" }"""));
        Assert.Equal(["contact 'on call' added"], told);
        Assert.Equal(["alarms.channels['pager'].kind", "alarms.channels['pager'].name", "alarms.channels['pager'].url", "contact 'chief'", "contact 'maintenance'"], merged.ForNextStart.Order(StringComparer.Ordinal));
        Assert.Equal(["maintenance", "on call"], merged.Options.Alarms.Contacts.Select(contact => contact.Name));
    }

    [Fact]
    public void Run_TheOrderOfMembersAndOfItems_IsNoChange()
    {
        var root = JsonNode.Parse(Text())!;
        var saws = root["saws"]!.AsArray();
        var first = saws[0]!;
        saws.RemoveAt(0);
        var turned = new JsonObject(first.AsObject().Reverse().Select(member => KeyValuePair.Create(member.Key, member.Value?.DeepClone())));
        saws.Add((JsonNode)turned);
        var (merged, told) = Merge(root.ToJsonString());
        Assert.Empty(told);
        Assert.Equal(["saw-2", "saw-1"], merged!.Options.Saws.Select(saw => saw.Name));
    }

    [Theory]
    [InlineData("{ \"site\": ")]
    [InlineData("[]")]
    [InlineData("")]
    public void Run_NoConfiguration_TakesNothing(string text) => Assert.Null(Merge(text).Merged);

    private static string Text(params (string Path, string? Json)[] changes)
    {
        var root = JsonNode.Parse(Sample.With())!;
        root["alarms"] = JsonNode.Parse(Alarms);
        foreach (var (path, json) in changes)
        {
            var steps = path.Replace("[", ".[", StringComparison.Ordinal).Split('.');
            var node = root;
            foreach (var step in steps[..^1])
                node = step[0] == '[' ? node![int.Parse(step[1..^1], System.Globalization.CultureInfo.InvariantCulture)] : node![step];
            var value = json is null ? null : JsonNode.Parse(json);
            if (steps[^1][0] != '[')
                node![steps[^1]] = value;
            else
                node!.AsArray().Add(value);
        }

        return root.ToJsonString();
    }

    private (MergedConfiguration Merged, string[] Told) Change(params (string Path, string? Json)[] changes)
    {
        var (merged, told) = Merge(Text(changes));
        return (merged!, told);
    }

    private (MergedConfiguration? Merged, string[] Told) Merge(string changed)
    {
        var running = Sample.Load(_folder, Text());
        Assert.Empty(running.Errors);
        var merged = ConfigurationMerge.Run(running.Source!, Sample.Load(_folder, changed), root => ConfigurationFile.Read(_folder.File("sawedge.json"), root, Sample.NoEnvironment));
        return (merged, merged is null ? [] : [.. ConfigurationDiff.Of(running.Source!, merged.Source).Select(change => $"{change.Part} {change.Told}")]);
    }
}
