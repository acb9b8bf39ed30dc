using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using SawEdge.EndToEnd.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests;

/// <summary>The first of the two commands of the README, as a person runs it.</summary>
public sealed partial class DemoTests
{
    [PeerFact(HistoryFile.Program)]
    public async Task Demo_PrintsFinishedCutsWithActualAndStandardTime_EndsClean_AndLeavesWhatItPrinted()
    {
        using var folder = new TempFolder();
        await using var demo = GatewayProcess.Start("demo", "--for", "45", "--data", folder.Path);
        await Until.TrueAsync(() => Cuts(demo.Output).Count >= 2, () => $"finished cuts are printed; it printed:\n{demo.Output}");
        var oee = await OeeAsync(demo);
        Assert.InRange(oee.GetProperty("figures").GetProperty("oee").GetDouble(), 0.05, 1.5);
        await demo.PrintsAsync(" alarm 1, medium: ");
        Assert.Equal(0, await demo.ExitsAsync());

        Assert.Contains("Virtual time runs 10 times as fast as the wall clock.", demo.Output, StringComparison.Ordinal);
        Assert.Contains(folder.File("sawedge.json"), demo.Output, StringComparison.Ordinal);
        Assert.DoesNotContain("crit:", demo.Output, StringComparison.Ordinal);
        Assert.DoesNotContain("fail:", demo.Output, StringComparison.Ordinal);
        var cuts = Cuts(demo.Output);
        Assert.All(cuts, cut => Assert.InRange(cut.Actual / cut.Standard, 0.5, 2));
        Assert.True(cuts.Select(cut => cut.Saw).Distinct().Count() >= 2, demo.Output);

        // What it says about itself holds.
        var (exitCode, check) = await GatewayProcess.CommandAsync("check", folder.File("sawedge.json"));
        Assert.True(exitCode == 0, check);
        Assert.Contains("3 saws", check, StringComparison.Ordinal);
        var history = new HistoryFile(folder.File("history"));
        Assert.Equal("ok", await history.IntegrityAsync());
        var said = int.Parse(Ended().Match(demo.Output).Groups["cycles"].Value, CultureInfo.InvariantCulture);
        Assert.Equal(said, history.Cycles().Count);
        foreach (var cut in cuts)
            Assert.Contains(history.Cycles(cut.Saw), cycle => cycle.Outcome == cut.Outcome && Math.Abs(cycle.Number("cut_time_s") - cut.Actual) < 0.051 && Math.Abs(cycle.Number("standard_cut_time_s") - cut.Standard) < 0.051);
    }

    // A week back, as a page shows it: the figures are those of the shift that runs, and no time is planned before. At the very beginning most of
    // the shift's few seconds are not stored yet, and unknown.
    private static async Task<JsonElement> OeeAsync(Peer demo)
    {
        using var http = new HttpClient { BaseAddress = new Uri(Page().Match(demo.Output).Groups["address"].Value) };
        var now = TimeProvider.System.GetUtcNow();
        var path = string.Create(CultureInfo.InvariantCulture, $"/api/v1/oee?from={now.AddDays(-7):yyyy-MM-ddTHH:mm:ssZ}&to={now.AddHours(2):yyyy-MM-ddTHH:mm:ssZ}&by=site&each=whole");
        var answer = "";
        JsonElement item = default;
        await Until.TrueAsync(
            async () =>
            {
                answer = await http.GetStringAsync(new Uri(path, UriKind.Relative));
                using var document = JsonDocument.Parse(answer);
                item = document.RootElement.GetProperty("items").EnumerateArray().Single().Clone();
                return item.GetProperty("figures").GetProperty("oee").ValueKind == JsonValueKind.Number && item.GetProperty("counts").GetProperty("parts").GetInt64() >= 2
                    && item.GetProperty("figures").GetProperty("unknownShare").GetDouble() is >= 0 and <= 0.5;
            },
            () => $"the page has figures of the shift; it said {answer}");
        return item;
    }

    private static List<(string Saw, string Outcome, double Actual, double Standard)> Cuts(string output) =>
        [.. Line().Matches(output).Select(match => (match.Groups["saw"].Value, match.Groups["outcome"].Value, Number(match, "actual"), Number(match, "standard")))];

    private static double Number(Match match, string group) => double.Parse(match.Groups[group].Value, CultureInfo.InvariantCulture);

    [GeneratedRegex(@"^\d\d:\d\d:\d\d +(?<saw>\w+) +(?<outcome>\w+) +(?<actual>[0-9.]+) +(?<standard>[0-9.]+) ", RegexOptions.Multiline)]
    private static partial Regex Line();

    [GeneratedRegex(@"^ +page +(?<address>http://\S+)", RegexOptions.Multiline)]
    private static partial Regex Page();

    [GeneratedRegex(@"^Ended: (?<cycles>\d+) cycles are in the history", RegexOptions.Multiline)]
    private static partial Regex Ended();
}
