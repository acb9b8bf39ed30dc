using System.Text.RegularExpressions;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>What a definition must be like so that a server takes it and people can read it.</summary>
public sealed partial class DashboardFormTests
{
    public static TheoryData<string> Files => [.. DashboardFiles.All().Keys];

    [Theory]
    [MemberData(nameof(Files))]
    public void Definition_IsWhole(string file)
    {
        var board = DashboardFiles.All()[file];
        Assert.Equal(Path.GetFileNameWithoutExtension(file), board.GetProperty("uid").GetString());
        Assert.Contains("sawedge", board.GetProperty("tags").EnumerateArray().Select(tag => tag.GetString()));
        var variables = board.GetProperty("templating").GetProperty("list").EnumerateArray().Select(variable => variable.GetProperty("name").GetString()).ToHashSet();
        var panels = board.GetProperty("panels").EnumerateArray().ToList();
        Assert.Equal(panels.Count, panels.Select(panel => panel.GetProperty("id").GetInt32()).Distinct().Count());
        Assert.Equal(panels.Count, panels.Select(panel => panel.GetProperty("title").GetString()).Distinct().Count());
        foreach (var panel in panels)
        {
            var title = panel.GetProperty("title").GetString()!;
            Assert.False(string.IsNullOrWhiteSpace(panel.GetProperty("description").GetString()), $"{title} says nothing about itself.");
            Assert.False(string.IsNullOrWhiteSpace(panel.GetProperty("fieldConfig").GetProperty("defaults").GetProperty("noValue").GetString()), $"{title} says nothing where there is nothing.");
            if (panel.GetProperty("type").GetString() != "table")
                Assert.True(panel.GetProperty("fieldConfig").GetProperty("defaults").TryGetProperty("unit", out _), $"{title} has no unit.");
            foreach (var target in panel.GetProperty("targets").EnumerateArray())
            {
                Assert.Equal("${source}", target.GetProperty("datasource").GetProperty("uid").GetString());
                Assert.True(target.GetProperty("rawQuery").GetBoolean(), title);
                Assert.All(Variable().Matches(target.GetProperty("query").GetString()!), match => Assert.Contains(match.Groups[1].Value, variables));
            }
        }
    }

    [Theory]
    [MemberData(nameof(Files))]
    public void Panels_LieBesideEachOther(string file)
    {
        var taken = new HashSet<(int, int)>();
        foreach (var panel in DashboardFiles.All()[file].GetProperty("panels").EnumerateArray())
        {
            var place = panel.GetProperty("gridPos");
            var (x, y, w, h) = (place.GetProperty("x").GetInt32(), place.GetProperty("y").GetInt32(), place.GetProperty("w").GetInt32(), place.GetProperty("h").GetInt32());
            Assert.InRange(x + w, 1, 24);
            for (var column = x; column < x + w; column++)
            {
                for (var row = y; row < y + h; row++)
                    Assert.True(taken.Add((column, row)), $"{panel.GetProperty("title")} lies on another panel.");
            }
        }
    }

    /// <summary>Every word that a column can hold has its own words on the dashboards.</summary>
    [Fact]
    public void Words_AreThereForEachOutcomeEventStateAndSeverity()
    {
        var known = new Dictionary<string, string[]>
        {
            ["outcome"] = [.. Enum.GetValues<CutOutcome>().Select(outcome => outcome.ToName())],
            ["event"] = [.. Enum.GetValues<AlarmEventKind>().Select(kind => kind.ToName())],
            ["state"] = [.. Enum.GetValues<AlarmState>().Select(state => state.ToName())],
            ["severity"] = [.. Enum.GetValues<AlarmSeverity>().Select(severity => severity.ToName())],
        };
        var seen = new HashSet<string>();
        foreach (var mapped in DashboardFiles.All().Values.SelectMany(board => board.GetProperty("panels").EnumerateArray()).SelectMany(panel => panel.GetProperty("fieldConfig").GetProperty("overrides").EnumerateArray()))
        {
            var column = mapped.GetProperty("matcher").GetProperty("options").GetString()!;
            if (!known.TryGetValue(column, out var words))
                continue;
            var mapping = mapped.GetProperty("properties").EnumerateArray().Single(property => property.GetProperty("id").GetString() == "mappings").GetProperty("value")[0].GetProperty("options");
            Assert.Equal(words.Order(), mapping.EnumerateObject().Select(word => word.Name).Order());
            Assert.All(mapping.EnumerateObject(), word => Assert.NotEmpty(word.Value.GetProperty("text").GetString()!));
            seen.Add(column);
        }

        Assert.Equal(known.Keys.Order(), seen.Order());
    }

    [Fact]
    public void Words_AreThereForEachStateOfASawAndClassOfStops()
    {
        var states = DashboardFiles.All()["sawedge-bay.json"].GetProperty("panels").EnumerateArray().Single(panel => panel.GetProperty("type").GetString() == "state-timeline").GetProperty("fieldConfig").GetProperty("defaults").GetProperty("mappings")[0].GetProperty("options");
        Assert.Equal(Enum.GetValues<TimelineState>().Select(state => state.ToName()).Order(), states.EnumerateObject().Select(word => word.Name).Order());
        Assert.Equal(Enum.GetValues<TimelineState>().Length, states.EnumerateObject().Select(word => word.Value.GetProperty("color").GetString()).Distinct().Count());
        var classes = DashboardFiles.All()["sawedge-oee.json"].GetProperty("panels").EnumerateArray().SelectMany(panel => panel.GetProperty("fieldConfig").GetProperty("overrides").EnumerateArray()).Where(mapped => mapped.GetProperty("matcher").GetProperty("options").GetString() == "class").ToList();
        Assert.Equal(2, classes.Count);
        foreach (var mapping in classes.Select(mapped => mapped.GetProperty("properties").EnumerateArray().Single(property => property.GetProperty("id").GetString() == "mappings").GetProperty("value")[0].GetProperty("options")))
            Assert.Equal(Enum.GetValues<StopClass>().Select(stop => stop.ToName()).Order(), mapping.EnumerateObject().Select(word => word.Name).Order());
    }

    /// <summary>The data source that the files for provisioning make is one that the definitions find.</summary>
    [Fact]
    public void Provisioning_NamesDataSourcesAndAFolder_WithoutSecrets()
    {
        var sources = Directory.GetFiles(Path.Combine(DashboardFiles.Folder, "provisioning", "datasources"));
        Assert.Equal(2, sources.Length);
        foreach (var text in sources.Select(File.ReadAllText))
        {
            Assert.Contains("type: influxdb\n", text, StringComparison.Ordinal);
            Assert.Contains("version: InfluxQL\n", text, StringComparison.Ordinal);
            Assert.Matches(Secret(), text);
        }
    }

    [GeneratedRegex(@"\$\{?(?!timeFilter\b)(\w+)")]
    private static partial Regex Variable();

    // Whatever is secret is the name of a variable of the environment.
    [GeneratedRegex(@"secureJsonData:\n +\w+: (Token )?\$SAWEDGE_\w+\n$")]
    private static partial Regex Secret();
}
