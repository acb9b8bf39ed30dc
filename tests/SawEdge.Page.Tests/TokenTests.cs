using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>People who come from elsewhere need a token; what they may do goes by its role.</summary>
[Collection(PageTests.Name)]
public sealed class TokenTests(PageFixture fixture)
{
    private const string Dialog = "dialog.token-dialog";

    // What a person can press to enter something, anywhere on the page.
    private const string Entering = "main button[data-answer], main button[data-key^=t], main button[data-key^=c], main button[data-key=scrap]";

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Token_WrongThenRight_IsToldAndThenLetIn()
    {
        var token = await Tokens.MakeAsync(await fixture.PlantAsync(), "screen", "view");
        await using var page = await fixture.OpenFromOutsideAsync(Screen.Phone);
        await page.Tab.GotoAsync("/#/alarms");
        await Assertions.Expect(page.Tab.Locator(Dialog)).ToContainTextAsync("sawedge token make");
        Assert.Equal("token", await page.FocusAsync());
        await page.PictureAsync("dialog-token-phone-light");
        Assert.Empty(await page.AxeAsync());

        await EnterAsync(page, "sawedge_of-another-gateway");
        await Assertions.Expect(page.Tab.Locator(Dialog)).ToContainTextAsync("The token was refused");
        Assert.Equal("token", await page.FocusAsync());
        await EnterAsync(page, token);
        await page.DrawnAsync();
        await Assertions.Expect(page.Tab.Locator("main article.alarm").First).ToBeVisibleAsync();
        Assert.Equal(0, await page.Tab.Locator(Dialog).CountAsync());

        // It is kept for this tab, in no cookie, and not for ever.
        await page.Tab.ReloadAsync();
        await page.DrawnAsync();
        Assert.Equal(0, await page.Tab.Locator(Dialog).CountAsync());
        Assert.Empty(await page.Tab.Context.CookiesAsync());
        Assert.DoesNotContain(token, await page.Tab.EvaluateAsync<string>("() => JSON.stringify({ ...localStorage })"), StringComparison.Ordinal);
        await page.Tab.Locator(".menu summary").ClickAsync();
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Forget the token" }).ClickAsync();
        await Assertions.Expect(page.Tab.Locator(Dialog)).ToBeVisibleAsync();
        Assert.Empty(page.TroublesBut("401"));
    }

    [PeerTheory(Chromium.Program, "mosquitto")]
    [InlineData("view", false)]
    [InlineData("operate", true)]
    public async Task Role_OfAToken_DecidesWhatCanBeEntered(string role, bool canEnter)
    {
        var token = await Tokens.MakeAsync(await fixture.PlantAsync(), $"desk-{role}", role);
        await using var page = await fixture.OpenFromOutsideAsync(Screen.Desktop);

        // By a link that somebody was sent; what is in it does not stay in the address.
        await page.GoAsync($"#/alarms?token={token}");
        Assert.DoesNotContain(token, page.Tab.Url, StringComparison.Ordinal);
        var (cut, _) = await Views.UnusualCutAsync(fixture);
        foreach (var (route, part) in new[] { ("#/alarms", "article.alarm"), ("#/shift", ".shift-more"), ("#/blades", "article.blade"), ($"#/cut/{Uri.EscapeDataString(cut)}", "section.sheet") })
        {
            await page.GoAsync(route);
            await page.Tab.Locator($"main {part}").First.WaitForAsync();
            foreach (var more in await page.Tab.Locator("main .shift-more summary").AllAsync())
                await more.ClickAsync();
            var found = await page.Tab.Locator(Entering).CountAsync() + await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter as scrap" }).CountAsync();
            Assert.True(found > 0 == canEnter, $"{route} as {role}: {found} buttons to enter something");
        }

        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Token_ThatIsRevoked_IsAskedForOnceAndNotAgainByItself()
    {
        var plant = await fixture.PlantAsync();
        var token = await Tokens.MakeAsync(plant, "lost", "view");
        await using var page = await fixture.OpenFromOutsideAsync(Screen.Desktop);
        await page.GoAsync($"#/bay?token={token}");
        await Tokens.RevokeAsync(plant, "lost");

        await page.Tab.EvaluateAsync("() => { location.hash = '#/cuts'; }");
        await Assertions.Expect(page.Tab.Locator(Dialog)).ToContainTextAsync("The token was refused");
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Not now" }).ClickAsync();
        await Assertions.Expect(page.Tab.Locator("main [role=alert]")).ToContainTextAsync("This token was revoked");

        // What the page asks by itself meanwhile is refused in silence.
        var answer = await page.Tab.EvaluateAsync<string>("async () => { const api = await import('/page/api.js'); return api.get('/saws').then(() => 'let in', error => String(error.status)); }");
        Assert.Equal("401", answer);
        Assert.Equal(0, await page.Tab.Locator(Dialog).CountAsync());

        // Whoever goes on is asked again.
        await page.Tab.Locator("nav a[href='#/blades']").ClickAsync();
        await Assertions.Expect(page.Tab.Locator(Dialog)).ToBeVisibleAsync();
        Assert.Empty(page.TroublesBut("401"));
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Token_ThatNobodyHas_LeavesWordsAndAWayBack()
    {
        await using var page = await fixture.OpenFromOutsideAsync(Screen.Phone);
        await page.Tab.GotoAsync("/#/bay");
        await page.Tab.Locator(Dialog).WaitForAsync();
        await page.Tab.Keyboard.PressAsync("Escape");
        await Assertions.Expect(page.Tab.Locator("main")).ToContainTextAsync("sawedge token make");
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Try again" }).ClickAsync();
        await Assertions.Expect(page.Tab.Locator(Dialog)).ToBeVisibleAsync();
        Assert.Empty(page.TroublesBut("401"));
    }

    private static async Task EnterAsync(WatchedPage page, string token)
    {
        await page.Tab.Locator("#token").FillAsync(token);
        await page.Tab.Keyboard.PressAsync("Enter");
    }
}
