using SawEdge.Page.Tests.Support;
using SawEdge.TestPlant;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests;

/// <summary>Names of jobs, remarks and reasons that try to become part of the page.</summary>
[Collection(PageTests.Name)]
public sealed class HostileTextTests(PageFixture fixture)
{
    // What none of the page's own files makes.
    private const string Made = "() => [...document.querySelectorAll('img[src=\"x\"], main script, [onerror], a[href^=\"javascript\"], main b')].map(e => e.outerHTML)";

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Job_WithAHostileName_IsShownAsItIsWrittenAndDoesNothing()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        var wrong = new List<string>();
        foreach (var job in PlantHistory.HostileJobs)
        {
            var cut = (await Views.AskAsync(fixture, $"cycles?saw=saw-3&job={Uri.EscapeDataString(job)}&limit=1")).GetProperty("items")[0].GetProperty("cycleId").GetString()!;
            await page.GoAsync($"#/cut/{Uri.EscapeDataString(cut)}");
            if (!(await page.TextAsync()).Contains(job, StringComparison.Ordinal))
                wrong.Add($"{cut} does not show '{job}'");
            wrong.AddRange(await page.Tab.EvaluateAsync<string[]>(Made));
        }

        wrong.AddRange(page.Troubles);
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task EveryView_WithHostileText_MakesNoElementOfIt()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        var wrong = new List<string>();
        var views = (await Views.AllAsync(fixture)).Select(view => view.Route).Concat(["#/cuts?saw=saw-3", "#/alarms/history", "#/blades?saw=saw-3"]);
        var remarked = (await Views.AskAsync(fixture, "alarms?limit=100")).GetProperty("items").EnumerateArray().Select(alarm => $"#/alarms/{alarm.GetProperty("number").GetInt64()}");
        foreach (var route in views.Concat(remarked))
        {
            await page.GoAsync(route);
            foreach (var more in await page.Tab.Locator("main summary").AllAsync())
                await more.ClickAsync();
            wrong.AddRange((await page.Tab.EvaluateAsync<string[]>(Made)).Select(made => $"{route} made {made}"));
        }

        wrong.AddRange(page.Troubles);
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Watch_OfMarkupThatIsPutIn_TellsOfIt()
    {
        // The tests above are worth something only if this one sees what they look for.
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        await page.GoAsync("#/bay");
        await page.Tab.EvaluateAsync("() => document.querySelector('main').insertAdjacentHTML('beforeend', '<img src=x onerror=\"alert(9)\">')");

        Assert.NotEmpty(await page.Tab.EvaluateAsync<string[]>(Made));
        await Until.TrueAsync(() => page.Troubles.Any(trouble => trouble.Contains("script-src", StringComparison.Ordinal)), "the policy refuses the handler");
        Assert.DoesNotContain(page.Troubles, trouble => trouble.StartsWith("dialog", StringComparison.Ordinal));
        Assert.Contains(await page.AxeAsync(), rule => rule.StartsWith("image-alt", StringComparison.Ordinal));
    }
}
