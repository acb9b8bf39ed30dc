using System.Globalization;
using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;
using Xunit.Abstractions;

namespace SawEdge.Page.Tests;

/// <summary>What the page weighs.</summary>
[Collection(PageTests.Name)]
public sealed class PageWeightTests(PageFixture fixture, ITestOutputHelper output)
{
    /// <summary>
    /// Compressed, with the charts' script, which is two thirds of it. A page over a slow line of 4 Mbit/s is there within two seconds.
    /// </summary>
    private const int MostBytes = 700_000;

    [PeerFact(Chromium.Program, "mosquitto")]
    public async Task Page_OverTheWire_IsCompressedAndLight()
    {
        await using var page = await fixture.OpenAsync(Screen.Desktop);
        var answers = new List<IResponse>();
        page.Tab.Response += (_, response) => answers.Add(response);
        foreach (var view in await Views.AllAsync(fixture))
            await page.GoAsync(view.Route);

        var sum = 0;
        foreach (var answer in answers.Where(answer => !answer.Url.Contains("/api/", StringComparison.Ordinal)))
        {
            var size = (await answer.Request.SizesAsync()).ResponseBodySize;
            sum += size;
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{size,9:N0}  {new Uri(answer.Url).AbsolutePath}"));
            if (size > 1024)
                Assert.Contains((await answer.AllHeadersAsync()).GetValueOrDefault("content-encoding"), new[] { "br", "gzip" });
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{sum,9:N0}  the whole page, all views"));
        Assert.InRange(sum, 50_000, MostBytes);
    }
}
