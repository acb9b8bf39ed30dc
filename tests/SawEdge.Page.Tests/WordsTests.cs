using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>Numbers and words of the page.</summary>
[Collection(PageTests.Name)]
public sealed partial class WordsTests(PageFixture fixture)
{
    private static readonly string[] Units = ["mm", "mm/min", "cm2", "m2", "cm2/min", "cm3/min", "m/min", "kW", "J/mm3", "s"];

    private static readonly double[] Values =
        [0, 1, -1, 0.5, 2.5, 1000.5, 1001.5, 99_999.5, 12_345.678, 0.000_123_45, 1e-9, 0.062_5, 25.4, 119.95, 120, 303, 7199.5, 7200, 11_520, 86_400, -75, 1.005, 3.1415926, 254];

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Quantity_InBothUnits_ReadsAsInTheReports()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        var wrong = new List<string>();
        foreach (var system in Enum.GetValues<DisplayUnits>())
        {
            foreach (var unit in Units)
            {
                // What is negative has no duration in the reports.
                var values = unit == "s" ? [.. Values.Where(value => value >= 0)] : Values;
                var shown = await page.Tab.EvaluateAsync<string[]>(
                    "async ([system, unit, values]) => { const u = await import('/page/units.js'); u.setUnits(system); return values.map(value => u.quantity(value, unit)); }",
                    new object[] { system == DisplayUnits.Inch ? "inch" : "metric", unit, values });
                wrong.AddRange(values.Zip(shown, (value, text) => (Expected: Plain(DisplayText.Text(system, value, unit)), Shown: Plain(text), Value: value))
                    .Where(each => each.Expected != each.Shown)
                    .Select(each => string.Create(CultureInfo.InvariantCulture, $"{each.Value} {unit} {system}: '{each.Shown}' on the page, '{each.Expected}' in the reports")));
            }
        }

        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Sentences_OfTheGateway_HaveUnitsAsPeopleReadThem()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        var read = await page.Tab.EvaluateAsync<string[]>(
            "async texts => { const u = await import('/page/units.js'); return texts.map(u.asRead); }",
            new[] { "It took 8.36 J/mm3, 56 % more, after 5.55 m2.", "30 cm2/min, 4 mm2", "job M2 of steel m3, 12 mm3x, 304, 2 in2" });
        Assert.Equal(["It took 8.36 J/mm³, 56 % more, after 5.55 m².", "30 cm²/min, 4 mm²", "job M2 of steel m3, 12 mm3x, 304, 2 in²"], read);
        foreach (var route in new[] { "#/alarms", $"#/cut/{Uri.EscapeDataString((await Views.UnusualCutAsync(fixture)).Id)}" })
        {
            await page.GoAsync(route);
            Assert.DoesNotMatch(@"\d[ \u00a0](J/)?(mm|cm|m)[23]\b", await page.TextAsync());
        }
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Durations_OfAColumn_HaveOneForm()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        const string Column = "async values => { const u = await import('/page/units.js'); return values.map(u.durationsLike(values)); }";
        Assert.Equal(["43.7 s", "0.0 s", "119.9 s", "–"], (await page.Tab.EvaluateAsync<string[]>(Column, new double?[] { 43.7, 0, 119.9, null })).Select(Plain));
        Assert.Equal(["0:00:44", "0:02:00", "1:01:01", "–"], await page.Tab.EvaluateAsync<string[]>(Column, new double?[] { 43.7, 119.95, 3661.4, null }));
    }

    // What the first picture needs is asked for at once, not level by level of what imports what.
    [Fact]
    public void Index_NamesAllModulesOfTheFirstPicture_AndNoOther()
    {
        var needed = new SortedSet<string>(StringComparer.Ordinal) { "app.js" };
        for (var open = new Queue<string>(needed); open.TryDequeue(out var name);)
        {
            foreach (Match import in Import().Matches(Content(name)))
            {
                if (needed.Add(import.Groups[1].Value))
                    open.Enqueue(import.Groups[1].Value);
            }
        }

        needed.Remove("app.js");
        Assert.Equal(needed, Preload().Matches(Content("index.html")).Select(match => match.Groups[1].Value).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void Keys_OfAllModules_HaveWords()
    {
        var words = JsonSerializer.Deserialize<Dictionary<string, string>>(Content("text.en.json"))!;
        Assert.All(words, word => Assert.False(string.IsNullOrWhiteSpace(word.Value), word.Key));
        var missing = PageFiles.Names.Where(name => name.EndsWith(".js", StringComparison.Ordinal) && name != "echarts.js")
            .SelectMany(name => Key().Matches(Content(name)).Select(match => (name, key: match.Groups[1].Value)))
            .Where(used => !words.ContainsKey(used.key) && !words.ContainsKey($"{used.key}.other"))
            .Select(used => $"{used.name}: {used.key}").ToList();
        Assert.True(missing.Count == 0, string.Join('\n', missing));
    }

    private static string Content(string name) => System.Text.Encoding.UTF8.GetString(PageFiles.Find(name)!.For([]).Content);

    // Squares and cubes are raised on the page, and a number keeps its unit beside it.
    private static string Plain(string text) => text.Replace('²', '2').Replace('³', '3').Replace('\u00a0', ' ');

    [GeneratedRegex(@"^import .*? from ""\./([\w.-]+)"";", RegexOptions.Multiline)]
    private static partial Regex Import();

    [GeneratedRegex(@"rel=""modulepreload"" href=""/page/([\w.-]+)""")]
    private static partial Regex Preload();

    // Keys that are put together from parts are not found here; those are tried by the views.
    [GeneratedRegex(@"\bt\(""([a-zA-Z][\w.]*)""")]
    private static partial Regex Key();
}
