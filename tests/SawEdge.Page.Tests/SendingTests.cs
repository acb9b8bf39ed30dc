using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>While the gateway has not answered yet: the keyboard stays where it is, and what is pressed again is not sent again.</summary>
[Collection(PageTests.Name)]
public sealed class SendingTests(PageFixture fixture)
{
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Form_WhileItIsSent_KeepsTheKeyboardAndSendsOnce()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/blades");
        await page.Tab.Locator("button[data-key=change]").ClickAsync();

        // In the future: the gateway looks at it and refuses it, so that nothing is changed for other tests.
        await page.Tab.Locator("#change-at").FillAsync("2031-01-01T06:00");
        var send = page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter the change" });
        await send.FocusAsync();
        await using (var held = await HeldAnswer.OfAsync(page.Tab, "**/blades/changes"))
        {
            await page.Tab.Keyboard.PressAsync("Enter");
            await IsBusyAsync(send);
            await page.Tab.Keyboard.PressAsync("Enter");
            await page.Tab.Locator("#change-blade").PressAsync("Enter");
            await send.FocusAsync();
            Assert.Equal(1, held.Count);
        }

        await Assertions.Expect(page.Tab.Locator("#change-at-problem")).ToBeVisibleAsync();
        await Assertions.Expect(send).Not.ToHaveAttributeAsync("aria-disabled", "true");
        Assert.Empty(page.TroublesBut("400", "422"));
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Form_LeftWhileItIsSent_StillChangesWhatIsShown()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/shift?from=2026-03-03T12:00:00.000Z&to=2026-03-03T20:00:00.000Z&saw=saw-1");
        await page.Tab.Locator("button[data-key=scrap]").ClickAsync();
        await page.Tab.Locator("#scrap-why").FillAsync("left early");
        var figures = page.Tab.Locator(".shift-figures");
        var before = (await figures.TextContentAsync())!;
        await using (await HeldAnswer.OfAsync(page.Tab, "**/scrap"))
        {
            var send = page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter as scrap" });
            await send.PressAsync("Enter");
            await IsBusyAsync(send);
            await page.Tab.Keyboard.PressAsync("Escape");
            await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(0);
        }

        await Assertions.Expect(figures).Not.ToHaveTextAsync(before);
        await page.Tab.Locator("button[data-key=scrap]").ClickAsync();
        await page.Tab.Locator(".entries li:has-text('left early') button").ClickAsync();
        await Assertions.Expect(page.Tab.Locator(".shift-figures")).ToHaveTextAsync(before);
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Form_WhenTheAddressChanges_IsLeft()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        await page.GoAsync("#/blades");
        await page.Tab.Locator("button[data-key=change]").ClickAsync();
        await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(1);
        await page.Tab.GoBackAsync();
        await page.AtAsync("#/bay");
        await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(0);

        // Also where the address changes before the form has come.
        await page.GoAsync("#/blades");
        await using (await HeldAnswer.OfAsync(page.Tab, "**/site"))
        {
            await page.Tab.Locator("button[data-key=change]").ClickAsync();
            await page.Tab.GoBackAsync();
            await Until.TrueAsync(() => page.Tab.Url.EndsWith("#/bay", StringComparison.Ordinal), "the bay is gone back to");
        }

        await page.AtAsync("#/bay");
        await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(0);
        Assert.Empty(page.Troubles);
    }

    [PeerTheory(Chromium.Program, "mosquitto")]
    [InlineData("#/cuts", "Older cuts", "**/cycles?*", "a")]
    [InlineData("#/cuts", "Save", "**/export/cycles?*", "button")]
    public async Task Button_WhileMoreIsRead_KeepsTheKeyboard(string route, string name, string path, string after)
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync(route);
        var button = page.Tab.GetByRole(AriaRole.Button, new() { Name = name });
        await button.FocusAsync();
        await using (var held = await HeldAnswer.OfAsync(page.Tab, path))
        {
            await page.Tab.Keyboard.PressAsync("Enter");
            await IsBusyAsync(button);
            await page.Tab.Keyboard.PressAsync("Enter");
            Assert.Equal(1, held.Count);
        }

        // The first that came, or where it was.
        await Assertions.Expect(page.Tab.Locator($"main {after}:focus")).ToBeVisibleAsync();
        await Assertions.Expect(page.Tab.Locator("main [aria-disabled=true]")).ToHaveCountAsync(0);
        Assert.Empty(page.Troubles);
    }

    private static async Task IsBusyAsync(ILocator button)
    {
        await Assertions.Expect(button).ToHaveAttributeAsync("aria-disabled", "true");
        await Assertions.Expect(button).ToBeFocusedAsync();
    }

    /// <summary>A slow gateway: its real answers are let through at the end.</summary>
    private sealed class HeldAnswer(IPage tab, string path) : IAsyncDisposable
    {
        private readonly TaskCompletionSource _let = new(TaskCreationOptions.RunContinuationsAsynchronously);
        private int _count;

        public int Count => Volatile.Read(ref _count);

        public static async Task<HeldAnswer> OfAsync(IPage tab, string path)
        {
            var held = new HeldAnswer(tab, path);
            await tab.RouteAsync(path, held.HoldAsync);
            return held;
        }

        public async ValueTask DisposeAsync()
        {
            _let.SetResult();
            await tab.UnrouteAsync(path);
        }

        private async Task HoldAsync(IRoute route)
        {
            if (route.Request.Method == "POST" || !path.EndsWith("/scrap", StringComparison.Ordinal))
            {
                Interlocked.Increment(ref _count);
                await _let.Task;
            }

            await route.ContinueAsync();
        }
    }
}
