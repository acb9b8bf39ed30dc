using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Tests.Telemetry;

/// <summary>The one table of metrics: in the program, and in the documentation as the program has it.</summary>
public sealed partial class MetricTableTests
{
    [Fact]
    public void Documentation_HoldsTheTableAsTheProgramHasIt()
    {
        var written = File.ReadAllText(Documentation()).ReplaceLineEndings("\n");
        Assert.Contains(Table(), written, StringComparison.Ordinal);
    }

    [Fact]
    public void Documentation_NamesEveryAreaAndLevelOfTheLog()
    {
        var written = File.ReadAllText(Documentation()).ReplaceLineEndings("\n");
        Assert.Contains(string.Concat(LogArea.All.Select(area => $"| `{area.Name}` | {area.Doc} |\n")), written, StringComparison.Ordinal);
        Assert.Contains($"Levels: {string.Join(", ", LoggingOptions.Levels.Select(level => $"`{level.Word}`"))}.", written, StringComparison.Ordinal);
    }

    [Fact]
    public void EveryMetric_IsInTheTable_HasANameOfItsOwn_AndOneThatFitsItsUnit()
    {
        var declared = typeof(KnownMetrics).GetFields().Select(field => field.GetValue(null)).OfType<MetricInfo>().ToList();
        Assert.Equal(declared, KnownMetrics.All);
        Assert.Equal(KnownMetrics.All.Count, KnownMetrics.All.Select(info => info.Name).Distinct().Count());
        Assert.Equal(KnownMetrics.All.Count, KnownMetrics.All.Select(info => info.OtlpName).Distinct().Count());
        Assert.All(KnownMetrics.All, info =>
        {
            Assert.Matches("^sawedge_[a-z]+(_[a-z]+)*$", info.Name);
            Assert.EndsWith(".", info.Help, StringComparison.Ordinal);
            var name = info.IsCounter ? info.Name[..^"_total".Length] : info.Name;
            Assert.Equal(info.Unit == "s", name.EndsWith("_seconds", StringComparison.Ordinal));
            Assert.Equal(info.Unit == "By", name.EndsWith("_bytes", StringComparison.Ordinal));
        });
        Assert.Equal("sawedge.poll_lateness", KnownMetrics.PollLateness.OtlpName);
        Assert.Equal("sawedge.history", KnownMetrics.HistoryBytes.OtlpName);
        Assert.Equal("sawedge.frames", KnownMetrics.Frames.OtlpName);
    }

    /// <summary>The table as it stands in the documentation.</summary>
    internal static string Table()
    {
        var text = new StringBuilder("| at `/metrics` | by OTLP, unit | by | what |\n|---|---|---|---|\n");
        foreach (var info in KnownMetrics.All)
            text.Append(CultureInfo.InvariantCulture, $"| `{info.Name}` | `{info.OtlpName}`, {(Annotation().IsMatch(info.Unit) ? info.Unit[1..^1] : info.Unit)} | {string.Join(", ", info.Labels)} | {info.Help} |\n");
        return text.ToString();
    }

    private static string Documentation()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "SawEdge.sln")))
            folder = folder.Parent;
        return Path.Combine(folder?.FullName ?? throw new InvalidOperationException("The tests run outside of the repository."), "deploy", "docs", "seeing-inside.md");
    }

    [GeneratedRegex("^{.*}$")]
    private static partial Regex Annotation();
}
