using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

[Collection(PageTests.Name)]
public sealed class ViewTests(PageFixture fixture)
{
    [PeerTheory(Chromium.Program, "mosquitto")]
    [InlineData("phone", false)]
    [InlineData("phone", true)]
    [InlineData("desktop", false)]
    [InlineData("desktop", true)]
    [InlineData("wall", false)]
    [InlineData("wall", true)]
    public async Task EveryView_OnARealHistory_IsDrawnWithoutTrouble(string size, bool isDark)
    {
        var screen = Screen.Of(size);
        await using var page = await fixture.OpenAsync(screen, isDark);
        var wrong = new List<string>();
        foreach (var view in await Views.AllAsync(fixture))
        {
            await page.GoAsync(view.Route);
            await page.PictureAsync($"{view.Name}-{size}-{(isDark ? "dark" : "light")}", isWhole: view.Name != "display");
            if (screen == Screen.Phone && await page.TooWideAsync() is { } wide)
                wrong.Add($"{view.Route} is wider than the screen by {wide}");
            var text = await page.TextAsync();
            wrong.AddRange(view.Texts.Where(words => !text.Contains(words, StringComparison.OrdinalIgnoreCase)).Select(words => $"{view.Route} does not say '{words}'"));
            wrong.AddRange(Leftovers(text).Select(left => $"{view.Route} shows '{left}'"));
        }

        wrong.AddRange(page.Troubles);
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    // axe-core computes the contrast of what is painted: both colour schemes have to be looked at.
    [PeerTheory(Chromium.Program, "mosquitto")]
    [InlineData("phone", false)]
    [InlineData("phone", true)]
    [InlineData("desktop", false)]
    [InlineData("desktop", true)]
    [InlineData("wall", false)]
    [InlineData("wall", true)]
    public async Task EveryView_ByTheRulesOfAxeCore_CanBeUsedByEverybody(string size, bool isDark)
    {
        await using var page = await fixture.OpenAsync(Screen.Of(size), isDark);
        var wrong = new List<string>();
        foreach (var view in await Views.AllAsync(fixture))
        {
            await page.GoAsync(view.Route);
            wrong.AddRange((await page.AxeAsync()).Select(rule => $"{view.Route}: {rule}"));
        }

        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    // What stands for a value that nobody thought of.
    private static IEnumerable<string> Leftovers(string text) =>
        new[] { "undefined", "NaN", "[object", "null ", "{count}", "{name}", "Infinity" }.Where(left => text.Contains(left, StringComparison.Ordinal));
}
