using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>The page of the second of two gateways: whoever opens it must see that he is at the wrong one.</summary>
[Collection(PageTests.Name)]
public sealed class StandbyTests(PageFixture fixture)
{
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task SecondOfTwo_SaysThatItStandsBy_AndStopsSayingSoOnceItWatches()
    {
        await using var plant = await RunningPlant.StartSecondAsync();
        foreach (var screen in new[] { Screen.Phone, Screen.Desktop })
        {
            await using var page = await fixture.OpenAsync(plant, screen);
            await page.GoAsync("#/bay");
            var banner = page.Tab.Locator("#banner");
            await Assertions.Expect(banner).ToHaveTextAsync("This gateway stands by: the other one watches the saws. Look there.");
            await Assertions.Expect(banner).ToBeVisibleAsync();
            await Assertions.Expect(page.Tab.Locator("main")).ToContainTextAsync("the other one watches it");
            Assert.Null(await page.TooWideAsync());
            Assert.Empty(await page.AxeAsync());
            await page.PictureAsync($"standby-{screen.Name}-light");
        }

        await using var open = await fixture.OpenAsync(plant, Screen.Desktop);
        await open.GoAsync("#/bay");
        await plant.OtherSaysAsync("offline");
        await Assertions.Expect(open.Tab.Locator("#banner")).ToBeHiddenAsync(new() { Timeout = 60_000 });
        Assert.Empty(open.TroublesBut());
    }
}
