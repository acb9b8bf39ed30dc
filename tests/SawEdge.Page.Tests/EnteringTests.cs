using System.Globalization;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>What people enter: alarms that they put aside or remark on, reasons of stops, scrap.</summary>
[Collection(PageTests.Name)]
public sealed class EnteringTests(PageFixture fixture)
{
    // A shift that is over: its figures change by what is entered, and by nothing else.
    private const string Shift = "#/shift?from=2026-03-04T12:00:00.000Z&to=2026-03-04T20:00:00.000Z&saw=saw-2";
    private const string ShiftQuery = "oee?from=2026-03-04T12:00:00Z&to=2026-03-04T20:00:00Z&saw=saw-2&by=saw&each=whole";
    private const string Hostile = "<img src=x onerror=alert(6)> \"'</script> {{7*7}} עבודה";

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Shelve_AnAlarmForFourHours_IsSeenOnTheShelfUntilThen()
    {
        var number = await AlarmAsync();
        await using var page = await fixture.OpenAsync(Screen.Phone);
        await page.GoAsync("#/alarms");
        var card = page.Tab.Locator($"main article:has(a[href='#/alarms/{number}'])");
        await card.Locator("button[data-answer=shelve]").ClickAsync();
        await page.PictureAsync("dialog-shelve-phone-light");
        Assert.Empty(await page.AxeAsync());

        // A reason is asked for, in words, at its field.
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Do it" }).ClickAsync();
        await Assertions.Expect(page.Tab.Locator("#answer-note-problem")).ToHaveTextAsync("Write at least a word.");
        Assert.Equal("answer-note", await page.FocusAsync());
        await page.PictureAsync("dialog-shelve-wrong-phone-light");

        await page.Tab.Locator("#answer-until").SelectOptionAsync("4");
        await page.Tab.Locator("#answer-note").FillAsync(Hostile);
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Do it" }).ClickAsync();
        await Assertions.Expect(card).ToContainTextAsync("on the shelf until");
        await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(0);
        var alarm = (await Views.AskAsync(fixture, $"alarms/{number}")).GetProperty("alarm");
        Assert.Equal("shelved", alarm.GetProperty("state").GetString());
        var left = alarm.GetProperty("shelvedUntil").GetDateTimeOffset() - (await fixture.PlantAsync()).Clock.GetUtcNow();
        Assert.InRange(left, TimeSpan.FromMinutes(235), TimeSpan.FromMinutes(240));

        await card.Locator("button[data-answer=unshelve]").ClickAsync();
        await Assertions.Expect(card.Locator("button[data-answer=shelve]")).ToBeVisibleAsync();
        await page.GoAsync($"#/alarms/{number}");
        await Assertions.Expect(page.Tab.Locator(".alarm-events")).ToContainTextAsync(Hostile);
        Assert.Equal(0, await page.Tab.Locator("main img").CountAsync());
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Remark_OnAnAlarm_StandsInItsHistoryAsItWasWritten()
    {
        var number = await AlarmAsync();
        await using var page = await fixture.OpenAsync(Screen.Desktop, isDark: true);
        await page.GoAsync($"#/alarms/{number}");
        await page.Tab.Locator("button[data-answer=comment]").ClickAsync();
        await page.Tab.Locator("#answer-note").FillAsync($"guide looked at {Hostile}");
        await page.PictureAsync("dialog-remark-desktop-dark");
        Assert.Empty(await page.AxeAsync());
        await page.Tab.Keyboard.PressAsync("Tab");
        await page.Tab.Keyboard.PressAsync("Tab");
        await page.Tab.Keyboard.PressAsync("Enter");
        await Assertions.Expect(page.Tab.Locator(".alarm-events q").Last).ToHaveTextAsync($"guide looked at {Hostile}");
        Assert.True(await page.Tab.EvaluateAsync<bool>("() => document.querySelector('main').contains(document.activeElement)"));
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Reason_OfAStop_ChangesWhereTheTimeWentAndIsTakenBack()
    {
        const string Reason = "forklift <b>in the way</b> & \"gate\"";
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync(Shift);
        var ledger = page.Tab.Locator(".ledger");
        await page.Tab.Locator(".shift-more summary").ClickAsync();
        var before = await Bucket("shortStops");
        var text = await ledger.InnerTextAsync();

        // A short stop that nobody explained becomes one with a reason.
        var row = page.Tab.Locator(".shift-tables tr:has-text('hort stops'):has(button:text('Give reason'))").First;
        var key = await row.Locator("button").GetAttributeAsync("data-key");
        await row.Locator("button").ClickAsync();
        await page.Tab.GetByRole(AriaRole.Radio, new() { Name = "Another reason" }).CheckAsync();
        await page.Tab.Locator("#stop-own").FillAsync(Reason);
        await page.Tab.Locator("#stop-class").SelectOptionAsync("down");
        await page.PictureAsync("dialog-stop-desktop-light");
        Assert.Empty(await page.AxeAsync());
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter this reason" }).ClickAsync();

        await Assertions.Expect(ledger).ToContainTextAsync(Reason);
        var again = page.Tab.Locator($"tr:has(button[data-key='{key}'])");
        await Assertions.Expect(again).ToContainTextAsync(Reason);
        Assert.True(await Bucket("shortStops") < before);
        Assert.Equal("Change", await page.FocusAsync());

        await again.Locator("button").ClickAsync();
        Assert.Equal(Reason, await page.Tab.Locator("#stop-own").InputValueAsync());
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Withdraw the entry" }).ClickAsync();
        await Assertions.Expect(page.Tab.Locator("#say")).ToContainTextAsync("withdrawn");
        await Assertions.Expect(ledger).Not.ToContainTextAsync(Reason);
        Assert.Equal(text, await ledger.InnerTextAsync());
        Assert.Equal(before, await Bucket("shortStops"));
        Assert.Empty(page.Troubles);

        async Task<double> Bucket(string name) => (await Views.AskAsync(fixture, ShiftQuery)).GetProperty("items")[0].GetProperty("bucketsS").GetProperty(name).GetDouble();
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Scrap_OfACut_CountsIsRefusedTwiceAndIsTakenBack()
    {
        await using var page = await fixture.OpenAsync(Screen.Phone, isDark: true);
        var id = await GoodCutAsync();
        await page.GoAsync($"#/cut/{Uri.EscapeDataString(id)}");
        var before = await ScrapAsync();
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter as scrap …" }).ClickAsync();
        await page.Tab.Locator("#scrap-reason").FillAsync(Hostile);
        await page.PictureAsync("dialog-scrap-phone-dark");
        Assert.Empty(await page.AxeAsync());
        await page.Tab.Keyboard.PressAsync("Enter");
        var withdraw = page.Tab.GetByRole(AriaRole.Button, new() { Name = "Withdraw" });
        await withdraw.WaitForAsync();
        await Assertions.Expect(page.Tab.Locator("main")).ToContainTextAsync($"Reason: {Hostile}.");
        await Assertions.Expect(withdraw).ToBeFocusedAsync();
        Assert.Equal(before + 1, await ScrapAsync());

        await withdraw.ClickAsync();
        await Assertions.Expect(page.Tab.Locator("main")).ToContainTextAsync("not entered as scrap");
        Assert.Equal(before, await ScrapAsync());

        // Somebody else is faster: the gateway's words stand in the dialog, and what was typed is still there.
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter as scrap …" }).ClickAsync();
        await page.Tab.Locator("#scrap-reason").FillAsync("too long");
        var entered = await PostAsync("scrap", new { saw = "saw-2", cycleId = id, reason = "first" });
        var send = page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter as scrap", Exact = true });
        await send.ClickAsync();
        await Assertions.Expect(page.Tab.Locator("dialog [role=alert]")).ToContainTextAsync("entered as scrap already");
        Assert.Equal("too long", await page.Tab.Locator("#scrap-reason").InputValueAsync());
        await Assertions.Expect(send).ToBeFocusedAsync();
        await page.PictureAsync("dialog-scrap-refused-phone-dark");
        await page.Tab.Keyboard.PressAsync("Escape");
        await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(0);
        await DeleteAsync($"scrap/{entered.GetProperty("id").GetInt64()}");
        Assert.Empty(page.TroublesBut("409"));
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Scrap_ByNumber_CountsInTheShiftAndIsTakenBack()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop, isDark: true);
        await page.GoAsync(Shift);
        var before = await ScrapAsync();
        var open = page.Tab.Locator("button[data-key=scrap]");
        await open.ClickAsync();
        await page.Tab.Locator("#scrap-quantity").FillAsync("3");
        await page.Tab.Locator("#scrap-why").FillAsync("burr");
        await page.PictureAsync("dialog-scrap-number-desktop-dark");
        Assert.Empty(await page.AxeAsync());
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter as scrap" }).ClickAsync();
        await Assertions.Expect(page.Tab.Locator(".shift-figures")).ToContainTextAsync(string.Create(CultureInfo.InvariantCulture, $"{before + 3} not good"));
        await Assertions.Expect(open).ToBeFocusedAsync();
        Assert.Equal(before + 3, await ScrapAsync());

        await open.ClickAsync();
        await page.Tab.Locator(".entries li:has-text('3 parts') button").ClickAsync();
        await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(0);
        await Until.TrueAsync(async () => await ScrapAsync() == before, "the entry is withdrawn");
        await Assertions.Expect(page.Tab.Locator(".shift-figures")).Not.ToContainTextAsync(string.Create(CultureInfo.InvariantCulture, $"{before + 3} not good"));
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task BladeChange_ThatTheGatewayRefuses_IsMarkedAtItsField()
    {
        await using var page = await fixture.OpenAsync(Screen.Phone);
        await page.GoAsync("#/blades");
        var open = page.Tab.Locator("button[data-key=change]");
        await open.ClickAsync();
        await page.Tab.Locator("#change-at").FillAsync("2031-01-01T06:00");
        await page.PictureAsync("dialog-blade-phone-light");
        Assert.Empty(await page.AxeAsync());
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter the change" }).ClickAsync();
        await Assertions.Expect(page.Tab.Locator("#change-at-problem")).ToContainTextAsync("future");
        Assert.Equal("change-at", await page.FocusAsync());
        Assert.Equal("true", await page.Tab.Locator("#change-at").GetAttributeAsync("aria-invalid"));
        await page.PictureAsync("dialog-blade-wrong-phone-light");
        await page.Tab.GetByRole(AriaRole.Button, new() { Name = "Cancel" }).ClickAsync();
        await Assertions.Expect(open).ToBeFocusedAsync();
        Assert.Empty(page.TroublesBut("400", "422"));
    }

    private async Task<int> ScrapAsync() => (await Views.AskAsync(fixture, ShiftQuery)).GetProperty("items")[0].GetProperty("counts").GetProperty("scrap").GetInt32();

    // A part of that shift that nobody called scrap.
    private async Task<string> GoodCutAsync()
    {
        var scrap = (await Views.AskAsync(fixture, "scrap?saw=saw-2&from=2026-03-04T12:00:00Z&to=2026-03-04T20:00:00Z")).GetProperty("items").EnumerateArray().Select(entry => entry.GetProperty("cycleId").GetString()).ToHashSet();
        return (await Views.AskAsync(fixture, "cycles?saw=saw-2&outcome=completed&from=2026-03-04T13:00:00Z&to=2026-03-04T14:00:00Z&limit=20"))
            .GetProperty("items").EnumerateArray().Select(cut => cut.GetProperty("cycleId").GetString()!).First(id => !scrap.Contains(id));
    }

    // One that is still on and was acknowledged: other tests answer those that were not.
    private async Task<long> AlarmAsync() => (await Views.AskAsync(fixture, "alarms?open=true&limit=100")).GetProperty("items").EnumerateArray()
        .First(alarm => alarm.GetProperty("state").GetString() == "acknowledged" && alarm.GetProperty("active").GetBoolean()).GetProperty("number").GetInt64();

    private async Task<JsonElement> PostAsync(string path, object body)
    {
        using var client = new HttpClient { BaseAddress = new Uri((await fixture.PlantAsync()).Address, "api/v1/") };
        var answer = await client.PostAsJsonAsync(path, body);
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        return await answer.Content.ReadFromJsonAsync<JsonElement>();
    }

    private async Task DeleteAsync(string path)
    {
        using var client = new HttpClient { BaseAddress = new Uri((await fixture.PlantAsync()).Address, "api/v1/") };
        Assert.True((await client.DeleteAsync(path)).IsSuccessStatusCode);
    }
}
