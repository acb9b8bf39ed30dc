using System.Text.RegularExpressions;
using System.Text.Json;
using System.Text.Json.Nodes;
using NJsonSchema;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>The schema is validated by an independent library, NJsonSchema.</summary>
public class SchemaTests
{
    private static readonly JsonDocumentOptions Lenient = new() { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true };

    private static readonly Lazy<Task<JsonSchema>> Schema = new(() => JsonSchema.FromJsonAsync(ConfigurationSchema.Write()));

    /// <summary>Settings that are good, in every notation.</summary>
    public static TheoryData<string, string> Good => new()
    {
        { "", "" },
        { "$schema", "\"./sawedge.schema.json\"" },
        { "saws[0].name", "\"Säge 1\"" },
        { "saws[0].interval", "\"1/4 s\"" },
        { "saws[0].unit", "255" },
        { "saws[0].machine", "{ \"ratedPower\": \"7.5 hp\", \"bladeLength\": \"17-1/2 ft\", \"restHeight\": \"18\\\"\", \"driveEfficiency\": \"80 %\" }" },
        { "saws[0].signals.motor_load.address", "40103" },
        { "saws[0].signals.motor_load.address", "\"4x0103\"" },
        { "saws[0].signals.motor_load.address", "\"400103\"" },
        { "saws[0].signals.motor_load.address", "\"holding 0x66\"" },
        { "saws[0].signals.motor_load.unit", "\"0.1 kW\"" },
        { "saws[0].signals.motor_load.maximum", "\"10 hp\"" },
        { "saws[0].signals.head_position.unit", "\"1/16 in\"" },
        { "saws[0].signals.head_position.offset", "\"-3.5 mm\"" },
        { "saws[0].signals.cutting", "{ \"address\": 40203, \"bit\": 15, \"invert\": true }" },
        { "saws[0].signals.mode.texts", "{ \"-1\": \"manual\", \"0\": \"automatic\" }" },
        { "saws[1].timeMember", "\"t.s\"" },
        { "brokers[0].version", "5" },
        { "brokers[0].version", "\"3.1.1\"" },
        { "brokers[0].maximumPayload", "\"1 MiB\"" },
        { "influx[0].version", "2" },
        { "influx[1].version", "\"1\"" },
        { "influx[1].retentionPolicy", "\"year\"" },
        { "influx[0].maximumWait", "\"500 ms\"" },
    };

    [Fact]
    public void CommittedSchema_IsTheGeneratedOne()
    {
        // To renew it: dotnet run --project src/SawEdge.Gateway -- schema --out deploy/sawedge.schema.json
        Assert.Equal(ConfigurationSchema.Write(), File.ReadAllText(Path.Combine(Deploy, "sawedge.schema.json")));
    }

    [Fact]
    public void CommittedReference_IsTheGeneratedOne_AndNamesEveryMember()
    {
        // To renew it: dotnet run --project src/SawEdge.Gateway -- schema --for people --out deploy/docs/configuration.md
        var text = ConfigurationReference.Write();
        Assert.Equal(text, File.ReadAllText(Path.Combine(Deploy, "docs", "configuration.md")));
        var members = Regex.Matches(ConfigurationSchema.Write(), "^ +\"(\\w+)\": \\{\n +\"description\"", RegexOptions.Multiline).Select(match => match.Groups[1].Value).Distinct().ToList();
        Assert.True(members.Count > 150);
        Assert.All(members, member => Assert.True(text.Contains($"| `{member}` |", StringComparison.Ordinal) || text.Contains($"## {member}\n", StringComparison.Ordinal), member));

        // Links lead somewhere.
        Assert.All(Regex.Matches(text, "\\]\\(#([a-z0-9]+)\\)").Select(match => match.Groups[1].Value).Distinct(), name => Assert.Contains($"\n## {name}\n", text, StringComparison.OrdinalIgnoreCase));
    }

    [Theory]
    [MemberData(nameof(Good))]
    public async Task WhatTheGatewayTakes_TheSchemaTakes(string path, string json)
    {
        var text = Sample.With(path, json);
        Sample.Load(text).Options();
        Assert.Empty((await Schema.Value).Validate(text));
    }

    [Theory]
    [MemberData(nameof(MistakeTests.Wrong), MemberType = typeof(MistakeTests))]
    public async Task WhatTheSchemaRefuses_TheGatewayRefuses(string path, string? json, string expected)
    {
        Assert.NotNull(expected);
        var text = Sample.With(path, json);
        if ((await Schema.Value).Validate(text).Count == 0)
            return;
        Assert.NotEmpty(Sample.Load(text).Errors);
    }

    /// <summary>Mistakes that an editor shows while the file is written.</summary>
    [Theory]
    [InlineData("sites", "\"a\"")]
    [InlineData("site", null)]
    [InlineData("site", "5")]
    [InlineData("saws", "[]")]
    [InlineData("saws[0].name", "\"saw/1\"")]
    [InlineData("saws[0].source", "\"opc\"")]
    [InlineData("saws[0].source", null)]
    [InlineData("saws[0].broker", "\"hall\"")]
    [InlineData("saws[0].interval", "100")]
    [InlineData("saws[0].interval", "\"5 secs\"")]
    [InlineData("saws[0].unit", "256")]
    [InlineData("saws[0].machine.restHeight", "\"18 inc\"")]
    [InlineData("saws[0].signals.head_positon", "{}")]
    [InlineData("saws[0].signals.motor_load.address", "\"4x\"")]
    [InlineData("saws[0].signals.motor_load.address", "100")]
    [InlineData("saws[0].signals.motor_load.type", "\"word\"")]
    [InlineData("saws[0].signals.motor_load.unit", "\"percent\"")]
    [InlineData("saws[0].signals.cutting.unit", "\"mm\"")]
    [InlineData("saws[0].signals.mode.texts", "{ \"1\": \"auto\" }")]
    [InlineData("saws[1].topic", "\"saw-2/#\"")]
    [InlineData("devices[0].port", "65536")]
    [InlineData("influx[0].database", "\"saws\"")]
    [InlineData("influx[0].url", "\"ftp://influx\"")]
    public async Task AMistakeOfForm_IsShownByTheSchema(string path, string? json)
    {
        Assert.NotEmpty((await Schema.Value).Validate(Sample.With(path, json)));
    }

    [Fact]
    public void EveryMember_IsDescribed()
    {
        var undescribed = new List<string>();
        var count = 0;
        void Walk(JsonNode? node, string path)
        {
            if (node is JsonObject schema)
            {
                if (schema["properties"] is JsonObject properties)
                {
                    count += properties.Count;
                    undescribed.AddRange(properties.Where(property => property.Value!["description"]?.GetValue<string>() is not { Length: > 4 }).Select(property => $"{path}.{property.Key}"));
                }

                foreach (var (key, value) in schema)
                    Walk(value, $"{path}.{key}");
            }
            else if (node is JsonArray items)
            {
                foreach (var item in items)
                    Walk(item, path);
            }
        }

        Walk(JsonNode.Parse(ConfigurationSchema.Write()), "");
        Assert.True(count > 100, $"only {count} members");
        Assert.Empty(undescribed);
    }

    /// <summary>The examples that are shipped.</summary>
    public static TheoryData<string> Examples => [.. Directory.EnumerateFiles(Path.Combine(Deploy, "examples")).Select(file => Path.GetFileName(file)).Order(StringComparer.Ordinal)];

    [Theory]
    [MemberData(nameof(Examples))]
    public async Task Examples_PassTheSchemaAndTheGateway(string name)
    {
        var path = Path.Combine(Deploy, "examples", name);
        var loaded = ConfigurationFile.Load(path, new Dictionary<string, string> { ["SAWEDGE_influx__0__token"] = name == "modbus-saw.json" ? "t" : "" });
        Assert.Empty(loaded.Findings);
        Assert.NotNull(loaded.Options);
        if (name is "modbus-saw.json" or "mqtt-saw.json")
        {
            // The two that show everything; the others show a way in.
            Assert.NotNull(loaded.Options.Calendar);
            Assert.NotNull(loaded.Options.Http);
            Assert.NotEmpty(loaded.Options.Alarms.Channels);
        }

        using var document = JsonDocument.Parse(await File.ReadAllTextAsync(path), Lenient);
        Assert.Empty((await Schema.Value).Validate(JsonSerializer.Serialize(document.RootElement)));
        Assert.True(File.Exists(Path.Combine(Path.GetDirectoryName(path)!, document.RootElement.GetProperty("$schema").GetString()!)));
    }

    /// <summary>Settings of alarms that are good, in every notation.</summary>
    public static TheoryData<string, string> GoodAlarms => new()
    {
        { "alarms.rules[0].above", "\"9-1/2 hp\"" },
        { "alarms.rules[2].above", "2" },
        { "alarms.rules[3].is", "\"aborted\"" },
        { "alarms.rules[3]", "{ \"name\": \"x\", \"on\": \"blade\", \"blade\": \"due\", \"is\": true }" },
        { "alarms.rules[0].caution", "false" },
        { "alarms.rules[0].hours", "[ { \"days\": [ \"sat\" ], \"from\": \"06:00\", \"to\": \"24:00\" } ]" },
        { "alarms.withoutRules", "[ \"stall\" ]" },
        { "alarms.answerLinks", "{ \"listen\": \"http://127.0.0.1:8087\", \"public\": \"https://saws.riverbend.example/alarms\" }" },
    };

    [Theory]
    [MemberData(nameof(GoodAlarms))]
    public async Task WhatTheGatewayTakesOfAlarms_TheSchemaTakes(string path, string json)
    {
        var text = AlarmSample.With((path, json));
        Sample.Load(text).Options();
        Assert.Empty((await Schema.Value).Validate(text));
    }

    [Theory]
    [MemberData(nameof(AlarmMistakeTests.Wrong), MemberType = typeof(AlarmMistakeTests))]
    public async Task WhatTheSchemaRefusesOfAlarms_TheGatewayRefuses(string path, string? json, string expected)
    {
        Assert.NotEmpty(expected);
        var text = AlarmSample.With((path, json));
        if ((await Schema.Value).Validate(text).Count > 0)
            Assert.NotEmpty(Sample.Load(text).Errors);
    }

    /// <summary>Mistakes among the alarms that an editor shows while the file is written.</summary>
    [Theory]
    [InlineData("units", "\"imperial\"")]
    [InlineData("alarms.rules[0].on", "\"signals\"")]
    [InlineData("alarms.rules[0].signal", "\"motor_laod\"")]
    [InlineData("alarms.rules[0].cycle", "\"unusual\"")]
    [InlineData("alarms.rules[0].above", "true")]
    [InlineData("alarms.rules[3].is", "[]")]
    [InlineData("alarms.rules[3].is", "5")]
    [InlineData("alarms.rules[0].hours", "[ { \"days\": [ \"monday\" ] } ]")]
    [InlineData("alarms.rules[0].hours", "[ { \"from\": \"6:00\" } ]")]
    [InlineData("alarms.rules[0].onDelay", "30")]
    [InlineData("alarms.contacts[0].to[0]", "\"M <m@riverbend.example>\"")]
    [InlineData("alarms.contacts[0].least", "\"lowest\"")]
    [InlineData("alarms.channels[0].kind", "\"mail\"")]
    [InlineData("alarms.channels[0].url", "\"https://x\"")]
    [InlineData("alarms.channels[1].url", "\"ftp://hooks\"")]
    public async Task AMistakeOfFormAmongAlarms_IsShownByTheSchema(string path, string? json)
    {
        Assert.NotEmpty((await Schema.Value).Validate(AlarmSample.With((path, json))));
    }

    /// <summary>Folder of the repository.</summary>
    internal static string Root => Path.GetDirectoryName(Deploy)!;

    private static string Deploy
    {
        get
        {
            for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
            {
                if (File.Exists(Path.Combine(folder.FullName, "SawEdge.sln")))
                    return Path.Combine(folder.FullName, "deploy");
            }

            throw new DirectoryNotFoundException("The folder of SawEdge.sln is not above the tests.");
        }
    }
}
