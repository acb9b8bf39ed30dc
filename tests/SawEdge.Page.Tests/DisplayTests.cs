using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>The display over the bay.</summary>
[Collection(PageTests.Name)]
public sealed class DisplayTests(PageFixture fixture)
{
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Display_LeftAlone_TurnsByItselfAndHoldsAtTheSpaceBar()
    {
        await using var page = await fixture.OpenAsync(Screen.Wall);

        // The tab's clock can be wound on.
        await page.Tab.Clock.InstallAsync();
        await page.GoAsync("#/display?views=bay,alarms&seconds=8");
        await Expect(page, "bay");
        await page.Tab.Clock.RunForAsync(9_000);
        await Expect(page, "alarms");
        await page.Tab.Clock.RunForAsync(9_000);
        await Expect(page, "bay");

        await page.Tab.Keyboard.PressAsync("Space");
        await Assertions.Expect(page.Tab.Locator(".display-bar button")).ToHaveAttributeAsync("aria-pressed", "true");
        await page.Tab.Clock.RunForAsync(30_000);
        await Expect(page, "bay");
        await page.Tab.Keyboard.PressAsync("ArrowRight");
        await Expect(page, "alarms");
        await page.Tab.Keyboard.PressAsync("ArrowLeft");
        await Expect(page, "bay");
        await page.Tab.Keyboard.PressAsync("Space");
        await page.Tab.Clock.RunForAsync(9_000);
        await Expect(page, "alarms");
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Display_WithMoreSawsThanFit_TurnsTheirPagesFirst()
    {
        await using var page = await fixture.OpenAsync(new Screen("strip", 1280, 430));
        await page.GoAsync("#/display?views=shift,alarms&seconds=600");
        var saws = page.Tab.Locator(".display-stage .shift-saw");
        var seen = new List<string>();
        await saws.First.WaitForAsync();
        while (await page.Tab.Locator(".display-stage > .view-shift").CountAsync() > 0 && seen.Count < 10)
        {
            var here = await saws.EvaluateAllAsync<string[]>("saws => saws.map(saw => saw.dataset.saw)");
            seen.AddRange(here);
            await page.Tab.Keyboard.PressAsync("ArrowRight");
            await Until.TrueAsync(async () => string.Join(",", here) != await saws.EvaluateAllAsync<string>("saws => saws.map(saw => saw.dataset.saw).join()"), "the page turns");
        }

        Assert.Equal(["saw-1", "saw-2", "saw-3"], seen);
        await Expect(page, "alarms");
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Display_ByKeyboardAlone_IsEnteredAndLeftWithoutCookies()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        var cookies = 0;
        page.Tab.Response += (_, response) => cookies += response.Headers.ContainsKey("set-cookie") ? 1 : 0;
        await page.GoAsync("#/alarms");
        await page.Tab.Locator(".menu summary").FocusAsync();
        await page.Tab.Keyboard.PressAsync("Enter");
        var enter = page.Tab.GetByRole(AriaRole.Button, new() { Name = "Show as a display" });
        for (var i = 0; i < 12 && !await enter.EvaluateAsync<bool>("button => button === document.activeElement"); i++)
            await page.Tab.Keyboard.PressAsync("Tab");
        await page.Tab.Keyboard.PressAsync("Enter");
        await page.AtAsync("#/display");
        Assert.Equal("true", await page.Tab.Locator(".display-marks li").First.GetAttributeAsync("aria-current"));
        await Assertions.Expect(page.Tab.Locator("#head")).ToBeHiddenAsync();

        await page.Tab.Keyboard.PressAsync("Escape");
        await page.AtAsync("#/bay");
        await Assertions.Expect(page.Tab.Locator("#head")).ToBeVisibleAsync();
        Assert.DoesNotContain("is-display", await page.Tab.Locator("html").GetAttributeAsync("class") ?? "", StringComparison.Ordinal);
        Assert.Empty(await page.Tab.Context.CookiesAsync());
        Assert.Equal(0, cookies);
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Display_OfViewsThatAreNotThere_ShowsTheUsual()
    {
        await using var page = await fixture.OpenAsync(Screen.Wall);
        await page.GoAsync("#/display?views=gauges,constructor&seconds=never");
        await Expect(page, "bay");
        await Assertions.Expect(page.Tab.Locator(".display-marks li")).ToHaveCountAsync(3);
        Assert.Empty(page.Troubles);
    }

    private static Task Expect(WatchedPage page, string view) => Assertions.Expect(page.Tab.Locator($".display-stage > .view-{view}")).ToBeVisibleAsync();
}
