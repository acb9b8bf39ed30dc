using System.Text.Json;
using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>Where things stand: nothing over another, nothing stretched, the room used.</summary>
[Collection(PageTests.Name)]
public sealed class LayoutTests(PageFixture fixture)
{
    private const string Frames = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))";

    // What of a lane lies over another part of it or sticks out of it, and canvases whose pixels are not those of their place.
    private const string Wrong = """
        () => {
          const wrong = [];
          const lanes = [...document.querySelectorAll(".lane")].filter(lane => { const r = lane.getBoundingClientRect(); return r.top < innerHeight && r.bottom > 0; });
          for (const lane of lanes) {
            const name = lane.dataset.saw;
            const outer = lane.getBoundingClientRect();
            const parts = [".lane-head", ".lane-cut", ".lane-now", ".lane-plot", ".lane-facts", ".lane-foot"]
              .map(part => [part, lane.querySelector(part)?.getBoundingClientRect()]).filter(([, r]) => r && r.width > 0 && r.height > 0);
            for (const [part, r] of parts)
              if (r.left < outer.left - 1 || r.right > outer.right + 1 || r.top < outer.top - 1 || r.bottom > outer.bottom + 1)
                wrong.push(`${name}: ${part} sticks out`);
            parts.forEach(([a, r], i) => parts.slice(i + 1).forEach(([b, s]) => {
              if (Math.min(r.right, s.right) - Math.max(r.left, s.left) > 1 && Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top) > 1)
                wrong.push(`${name}: ${a} lies over ${b}`);
            }));
            for (const text of lane.querySelectorAll("h2, .lane-state, .lane-load, .lane-verdict, .lane-shift, .lane-age, .tag"))
              if (text.getClientRects().length > 0 && text.scrollWidth > text.clientWidth + 1 && getComputedStyle(text).display !== "inline")
                wrong.push(`${name}: '${text.textContent}' is cut`);
            const canvas = lane.querySelector("canvas");
            const density = Math.min(2, devicePixelRatio);
            if (Math.abs(canvas.width - canvas.clientWidth * density) > 2 || Math.abs(canvas.height - canvas.clientHeight * density) > 2)
              wrong.push(`${name}: a trace of ${canvas.width} x ${canvas.height} is stretched to ${canvas.clientWidth * density} x ${canvas.clientHeight * density}`);
            if (canvas.clientHeight < 60 || canvas.clientWidth < 160)
              wrong.push(`${name}: a trace of ${canvas.clientWidth} x ${canvas.clientHeight} px cannot be read`);
          }
          return lanes.length === 0 ? ["no lane is seen"] : wrong;
        }
        """;

    [PeerTheory(Chromium.Program, "mosquitto")]
    [InlineData("phone", "#/bay")]
    [InlineData("desktop", "#/bay")]
    [InlineData("wall", "#/bay")]
    [InlineData("phone", "#/display?views=bay")]
    [InlineData("desktop", "#/display?views=bay")]
    [InlineData("wall", "#/display?views=bay")]
    public async Task Bay_AtEachSize_StandsSideBySide(string size, string route)
    {
        await using var page = await fixture.OpenAsync(Screen.Of(size));
        await page.GoAsync(route);
        await page.Tab.Locator(".lane").First.WaitForAsync();
        await page.Tab.EvaluateAsync(Frames);
        Assert.Empty(await page.Tab.EvaluateAsync<string[]>(Wrong));

        // A trace follows its room at once, not with the next value.
        await page.Tab.EvaluateAsync("() => { for (const fact of document.querySelectorAll('.lane-facts dd')) fact.textContent = 'a name that is long enough for two lines of it, and for more of them'; }");
        await page.Tab.SetViewportSizeAsync(Screen.Of(size).Width, Screen.Of(size).Height + 60);
        await page.Tab.EvaluateAsync(Frames);
        Assert.Empty(await page.Tab.EvaluateAsync<string[]>(Wrong));
        Assert.Empty(page.Troubles);
    }

    [PeerTheory(Chromium.Program, "mosquitto")]
    [InlineData("desktop")]
    [InlineData("wall")]
    public async Task Display_OfFewSaws_UsesTheScreen(string size)
    {
        await using var page = await fixture.OpenAsync(Screen.Of(size));
        await page.GoAsync("#/display?views=bay");
        await page.Tab.Locator(".lane").First.WaitForAsync();
        await page.Tab.EvaluateAsync(Frames);
        var shares = await page.Tab.EvaluateAsync<double[]>("""
            () => {
              const lanes = [...document.querySelectorAll(".lane")].map(lane => lane.getBoundingClientRect());
              return [Math.min(...lanes.map(r => r.top)) / innerHeight, Math.max(...lanes.map(r => r.bottom)) / innerHeight, Math.max(...lanes.map(r => r.right)) / innerWidth];
            }
            """);
        Assert.InRange(shares[0], 0, 0.15);
        Assert.InRange(shares[1], 0.85, 1);
        Assert.InRange(shares[2], 0.95, 1);
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Bay_HasSaws_InTheOrderOfTheSite()
    {
        var site = await Views.AskAsync(fixture, "site");
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        await page.Tab.Locator(".lane").First.WaitForAsync();
        Assert.Equal(
            site.GetProperty("saws").EnumerateArray().Select(saw => saw.GetProperty("name").GetString()),
            await page.Tab.EvaluateAsync<string[]>("() => [...document.querySelectorAll('.lane')].map(lane => lane.dataset.saw)"));
    }

    // A forecast that meets the limit ends there; one that meets it far off ends where the drawing ends.
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task ForecastLine_OfABlade_EndsAtTheLimit()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        var ends = await page.Tab.EvaluateAsync<JsonElement>("""
            async () => {
              const { forecastLine } = await import("/page/blades-wear.js");
              const wear = { areaM2: 2, rise: 0.1, dullRise: 0.25, areaLeftM2: 1, lowM2: 0.5, highM2: 2 };
              return [
                forecastLine({ wear, line: [[2, 0.1], [2.5, 0.2], [3, 0.3], [3.5, 0.5]] }),
                forecastLine({ wear: { ...wear, areaLeftM2: 1000, highM2: null }, line: [[2, 0.1], [1002, 0.25]] }),
                forecastLine({ wear: { ...wear, areaLeftM2: 0 }, line: [[2, 0.3], [3, 0.5]] }),
              ];
            }
            """);
        var met = ends[0].EnumerateArray().Last();
        Assert.Equal(2.75, met[0].GetDouble(), 6);
        Assert.Equal(0.25, met[1].GetDouble(), 6);
        Assert.InRange(ends[1].EnumerateArray().Last()[0].GetDouble(), 3, 6);
        Assert.Empty(ends[2].EnumerateArray());
    }

    // On paper dark colours would be light words on white.
    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Print_OfADarkPage_IsLightAndBackAgain()
    {
        const string Theme = "() => document.documentElement.dataset.theme";
        await using var page = await fixture.OpenAsync(Screen.Desktop, isDark: true);
        await page.GoAsync("#/shift");
        Assert.Equal("dark", await page.Tab.EvaluateAsync<string>(Theme));
        await page.Tab.EmulateMediaAsync(new PageEmulateMediaOptions { Media = Media.Print });
        await Until.TrueAsync(async () => await page.Tab.EvaluateAsync<string>(Theme) == "light", "the page is light on paper");
        Assert.False(await page.Tab.Locator(".nav").First.IsVisibleAsync());
        await page.PictureAsync("shift-print", isWhole: true);
        await page.Tab.EmulateMediaAsync(new PageEmulateMediaOptions { Media = Media.Screen });
        await Until.TrueAsync(async () => await page.Tab.EvaluateAsync<string>(Theme) == "dark", "the page is dark again");
    }
}
