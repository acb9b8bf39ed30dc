using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>A gateway that has seen nothing yet, and one that goes away.</summary>
[Collection(PageTests.Name)]
public sealed class EmptyPlantTests(PageFixture fixture)
{
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task EveryView_OfAPlantThatHasSeenNothing_SaysWhatToDo()
    {
        await using var plant = await RunningPlant.StartEmptyAsync();
        await using var page = await fixture.OpenAsync(plant, Screen.Phone);
        var wrong = new List<string>();
        foreach (var (route, words) in new[]
        {
            ("#/bay", "see whether its source is connected"),
            ("#/shift", "Add calendar with its shifts"),
            ("#/oee", "Add calendar with its shifts"),
            ("#/cuts", "“sawedge check” says whether its configuration is right"),
            ("#/cuts?saw=saw-1&minScore=3", "Take one away"),
            ("#/cut/none", "removed with old data"),
            ("#/blades", "A blade appears here with its saw's first cut"),
            ("#/alarms/history?saw=saw-2", "The gateway keeps each alarm here"),
            ("#/nowhere", "Start from the bay"),
        })
        {
            await page.Tab.GotoAsync($"/{route}");
            var main = page.Tab.Locator("main");
            try
            {
                await Assertions.Expect(main).ToContainTextAsync(words, new() { IgnoreCase = true });
            }
            catch (PlaywrightException)
            {
                wrong.Add($"{route} does not say '{words}' but '{await main.InnerTextAsync()}'");
            }

            if (await page.TooWideAsync() is { } wide)
                wrong.Add($"{route} is wider than the screen by {wide}");
            wrong.AddRange((await page.AxeAsync()).Select(rule => $"{route}: {rule}"));
            await page.PictureAsync($"empty-{route.Split('/', '?')[1]}-phone-light");
        }

        wrong.AddRange(page.TroublesBut("404"));
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Form_WhileTheGatewayIsAway_KeepsWhatWasTypedAndIsTakenWhenItIsBack()
    {
        await using var plant = await RunningPlant.StartEmptyAsync();
        await using var page = await fixture.OpenAsync(plant, Screen.Desktop);
        await page.GoAsync("#/shift?saw=saw-1");
        await page.Tab.Locator("button[data-key=scrap]").ClickAsync();
        await page.Tab.Locator("#scrap-why").FillAsync("<b>bowed</b>");
        await plant.StopGatewayAsync();

        var send = page.Tab.GetByRole(AriaRole.Button, new() { Name = "Enter as scrap" });
        await send.PressAsync("Enter");
        await Assertions.Expect(page.Tab.Locator("dialog [role=alert]")).ToHaveTextAsync("The gateway does not answer.");
        await Assertions.Expect(send).ToBeFocusedAsync();
        await Assertions.Expect(page.Tab.Locator("#banner")).ToContainTextAsync("No connection to the gateway since", new() { Timeout = 20_000 });
        await page.PictureAsync("dialog-gateway-away-desktop-light");

        await plant.StartGatewayAsync();
        await send.PressAsync("Enter");
        await Assertions.Expect(page.Tab.Locator("dialog")).ToHaveCountAsync(0);
        await Assertions.Expect(page.Tab.Locator("#banner")).ToBeHiddenAsync(new() { Timeout = 20_000 });
        await page.Tab.Locator("button[data-key=scrap]").ClickAsync();
        await Assertions.Expect(page.Tab.Locator(".entries")).ToContainTextAsync("<b>bowed</b>");
        Assert.Empty(page.TroublesBut("ERR_CONNECTION_REFUSED", "ERR_INCOMPLETE_CHUNKED_ENCODING", "503"));
    }
}
