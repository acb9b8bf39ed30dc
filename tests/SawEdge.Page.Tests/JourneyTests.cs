using System.Globalization;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>What people do with the page, from one end to the other.</summary>
[Collection(PageTests.Name)]
public sealed class JourneyTests(PageFixture fixture)
{
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Oee_ClickedDown_EndsAtACutOfTheShiftThatItIsMadeOf()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/oee");

        // The days of the first saw; the last but one is whole.
        var days = page.Tab.Locator("svg:has(a.sky-column)").First.Locator("a.sky-column");
        await days.First.WaitForAsync();
        var count = await days.CountAsync();
        Assert.True(count >= 3, $"{count} days are drawn.");
        await days.Nth(count - 2).ClickAsync();
        await page.AtAsync("#/oee?", "each=shift");
        await page.Tab.Locator("a.sky-column").First.ClickAsync();
        await page.AtAsync("#/shift?", "saw=");

        // The shift that was opened says the same figure as the API, and as the column that was clicked.
        var query = string.Join('&', page.Tab.Url.Split('?')[1].Split('&').Where(part => part.Split('=')[0] is "from" or "to" or "saw"));
        var item = (await Views.AskAsync(fixture, $"oee?{query}&by=saw&each=whole")).GetProperty("items")[0];
        var oee = item.GetProperty("figures").GetProperty("oee").GetDouble();
        Assert.Contains(string.Create(CultureInfo.InvariantCulture, $"OEE {oee * 100:0.#} %"), await page.TextAsync(), StringComparison.Ordinal);

        await page.Tab.Locator("main summary").First.ClickAsync();
        var link = page.Tab.Locator("main table a[href^='#/cut/']").First;
        var id = Uri.UnescapeDataString((await link.GetAttributeAsync("href"))![6..]);
        await link.ClickAsync();
        await page.AtAsync("#/cut/");

        var cut = (await Views.AskAsync(fixture, $"cycles/{Uri.EscapeDataString(id)}")).GetProperty("cycle");
        Assert.Equal(item.GetProperty("subject").GetString(), cut.GetProperty("saw").GetString());
        Assert.Contains(cut.GetProperty("job").GetString()!, await page.TextAsync(), StringComparison.Ordinal);
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task SavedCuts_InEachFormat_AreTheExportOfTheFilterThatIsShown()
    {
        // Up to a moment that is past: cuts go on to come.
        var last = (await Views.AskAsync(fixture, "cycles?limit=1&outcome=aborted")).GetProperty("items")[0].GetProperty("startedAt").GetDateTimeOffset();
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync(string.Create(CultureInfo.InvariantCulture, $"#/cuts?outcome=aborted&to={last.AddDays(-1):yyyy-MM-dd}"));
        using var http = new HttpClient { BaseAddress = (await fixture.PlantAsync()).Address };
        foreach (var format in (string[])["csv", "xlsx", "parquet"])
        {
            await page.Tab.Locator("select[name=format]").SelectOptionAsync(format);
            var asked = page.Tab.WaitForRequestAsync("**/export/cycles?*");
            var download = await page.Tab.RunAndWaitForDownloadAsync(() => page.Tab.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync());
            Assert.Matches($@"^cuts-\d{{4}}-\d\d-\d\d\.{format}$", download.SuggestedFilename);
            var query = new Uri((await asked).Url).Query;
            Assert.Contains("outcome=aborted", query, StringComparison.Ordinal);
            Assert.Contains($"format={format}", query, StringComparison.Ordinal);
            Assert.Contains("to=", query, StringComparison.Ordinal);
            Assert.Equal(await http.GetByteArrayAsync(new Uri($"api/v1/export/cycles{query}", UriKind.Relative)), await File.ReadAllBytesAsync(await download.PathAsync()));
        }

        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Acknowledge_AnOpenAlarm_IsSeenInItsHistory()
    {
        var number = await UnansweredAsync();
        await using var page = await fixture.OpenAsync(Screen.Phone);
        await page.GoAsync("#/alarms");
        await Card(page, number).Locator("button[data-answer=acknowledge]").ClickAsync();
        await Assertions.Expect(Card(page, number).Locator("button[data-answer=acknowledge]")).ToHaveCountAsync(0);

        await page.GoAsync(string.Create(CultureInfo.InvariantCulture, $"#/alarms/{number}"));
        await Assertions.Expect(page.Tab.Locator(".alarm-events li").Last).ToContainTextAsync("cknowledged");
        Assert.NotEqual("unacknowledged", await StateAsync(number));
        await page.GoAsync("#/alarms/history");
        await Assertions.Expect(page.Tab.Locator($"main tr:has(a[href='#/alarms/{number}'])")).ToBeVisibleAsync();
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Alarm_AnsweredByAnother_ChangesByItself()
    {
        var number = await UnansweredAsync();
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/alarms");
        await Assertions.Expect(Card(page, number).Locator("button[data-answer=acknowledge]")).ToHaveCountAsync(1);

        using var client = new HttpClient { BaseAddress = new Uri((await fixture.PlantAsync()).Address, "api/v1/") };
        var answer = await client.PostAsJsonAsync($"alarms/{number}/acknowledge", new { note = "<img src=x onerror=alert(5)> seen" });
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());

        await Assertions.Expect(Card(page, number).Locator("button[data-answer=acknowledge]")).ToHaveCountAsync(0);
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Bay_WhileSawsRun_FollowsThem()
    {
        await using var page = await fixture.OpenAsync(Screen.Wall);
        await page.GoAsync("#/bay");
        var before = await page.Tab.InnerTextAsync("main");
        await Until.TrueAsync(async () => await page.Tab.InnerTextAsync("main") != before, "something in the bay changes");

        // What changed is what the saws said, not only the age of what they said.
        var seen = new HashSet<string>();
        await Until.TrueAsync(
            async () =>
            {
                foreach (var value in await page.Tab.Locator("main").GetByText(" kW", new LocatorGetByTextOptions { Exact = false }).AllInnerTextsAsync())
                    seen.Add(value);
                return seen.Count > 6;
            },
            () => $"loads change: {string.Join(" | ", seen)}");
        Assert.Empty(page.Troubles);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Keyboard_Alone_ReachesTheAlarmsAndAcknowledges()
    {
        var number = await UnansweredAsync();
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        await page.Tab.Keyboard.PressAsync("Tab");
        Assert.Equal("skip", await page.Tab.EvaluateAsync<string>("() => document.activeElement.id"));
        await TabToAsync(page, "nav a[href='#/alarms']");
        await page.Tab.Keyboard.PressAsync("Enter");
        await page.AtAsync("#/alarms");

        await TabToAsync(page, $"article:has(a[href='#/alarms/{number}']) button[data-answer=acknowledge]");
        await page.Tab.Keyboard.PressAsync("Enter");
        await Until.TrueAsync(async () => await StateAsync(number) is not ("unacknowledged" or "returned_unacknowledged"), "it is acknowledged");
        await Assertions.Expect(Card(page, number).Locator("button[data-answer=acknowledge]")).ToHaveCountAsync(0);

        // The focus is still somewhere in the view, not lost with the button.
        Assert.True(await page.Tab.EvaluateAsync<bool>("() => document.querySelector('main').contains(document.activeElement)"));
        Assert.Empty(page.Troubles);
    }

    private static ILocator Card(WatchedPage page, long number) => page.Tab.Locator($"main article:has(a[href='#/alarms/{number}'])");

    private static async Task TabToAsync(WatchedPage page, string selector)
    {
        for (var i = 0; i < 80; i++)
        {
            await page.Tab.Keyboard.PressAsync("Tab");
            if (!await page.Tab.EvaluateAsync<bool>("selector => document.activeElement.matches(selector)", selector))
                continue;

            // Whoever uses the keyboard must see where it is.
            Assert.True(await page.Tab.EvaluateAsync<bool>("() => { const s = getComputedStyle(document.activeElement); return s.outlineStyle !== 'none' || s.boxShadow !== 'none'; }"), $"the focus on {selector} cannot be seen");
            return;
        }

        Assert.Fail($"the keyboard does not reach {selector}");
    }

    // Each test answers an alarm of its own.
    private async Task<long> UnansweredAsync()
    {
        var items = (await Views.AskAsync(fixture, "alarms?open=true&limit=100")).GetProperty("items").EnumerateArray();
        return items.First(alarm => alarm.GetProperty("state").GetString() is "unacknowledged" or "returned_unacknowledged").GetProperty("number").GetInt64();
    }

    private async Task<string?> StateAsync(long number) =>
        (await Views.AskAsync(fixture, $"alarms/{number}")).GetProperty("alarm").GetProperty("state").GetString();
}
