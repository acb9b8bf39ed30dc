using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>What a person chooses for himself: units and colours.</summary>
[Collection(PageTests.Name)]
public sealed class SettingsTests(PageFixture fixture)
{
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Units_Inch_AreShownAtOnceAndRemembered()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        var (cut, _) = await Views.UnusualCutAsync(fixture);
        await page.GoAsync($"#/cut/{Uri.EscapeDataString(cut)}");
        Assert.Contains("cm²/min", await page.TextAsync(), StringComparison.Ordinal);

        await ChooseAsync(page, "Inch");
        await page.DrawnAsync();
        await IsInchAsync();
        await page.Tab.ReloadAsync();
        await page.DrawnAsync();
        await IsInchAsync();

        await ChooseAsync(page, "The plant's");
        await page.DrawnAsync();
        await Assertions.Expect(page.Tab.Locator("main")).ToContainTextAsync("cm²/min");
        Assert.Empty(page.Troubles);

        async Task IsInchAsync()
        {
            await Assertions.Expect(page.Tab.Locator("main")).ToContainTextAsync("in²/min");
            Assert.DoesNotContain("cm²/min", await page.TextAsync(), StringComparison.Ordinal);
        }
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Colours_Dark_AreShownAtOnceAndRemembered()
    {
        await using var page = await fixture.OpenAsync(Screen.Phone);
        await page.GoAsync("#/alarms");
        Assert.Equal("light", await Theme());
        var light = await PaperAsync();
        await page.Tab.Locator(".menu summary").ClickAsync();
        await page.PictureAsync("menu-phone-light");
        Assert.Null(await page.TooWideAsync());
        Assert.Empty(await page.AxeAsync());
        await page.Tab.Keyboard.PressAsync("Escape");
        Assert.Equal("Settings", await page.FocusAsync());

        await ChooseAsync(page, "Dark");
        Assert.Equal("dark", await Theme());
        Assert.NotEqual(light, await PaperAsync());
        await page.Tab.ReloadAsync();
        await page.DrawnAsync();
        Assert.Equal("dark", await Theme());

        // As the system: it changes with it, without anybody doing anything.
        await ChooseAsync(page, "As the system");
        Assert.Equal("light", await Theme());
        await page.Tab.EmulateMediaAsync(new() { ColorScheme = ColorScheme.Dark });
        await Until.TrueAsync(async () => await Theme() == "dark", "the page follows the system");
        Assert.Empty(page.Troubles);

        Task<string> Theme() => page.Tab.EvaluateAsync<string>("() => document.documentElement.dataset.theme");
        Task<string> PaperAsync() => page.Tab.EvaluateAsync<string>("() => getComputedStyle(document.body).backgroundColor");
    }

    private static async Task ChooseAsync(WatchedPage page, string name)
    {
        if (await page.Tab.Locator(".menu[open]").CountAsync() == 0)
            await page.Tab.Locator(".menu summary").ClickAsync();
        var button = page.Tab.Locator(".menu").GetByRole(AriaRole.Button, new() { Name = name });
        await button.ClickAsync();
        await Assertions.Expect(button).ToHaveAttributeAsync("aria-pressed", "true");
    }
}
