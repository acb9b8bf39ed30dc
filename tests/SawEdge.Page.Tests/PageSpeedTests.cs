using System.Globalization;
using Microsoft.Playwright;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;
using Xunit.Abstractions;

namespace SawEdge.Page.Tests;

/// <summary>What the page weighs, and how soon something is seen.</summary>
[Collection(PageTests.Name)]
public sealed class PageSpeedTests(PageFixture fixture, ITestOutputHelper output)
{
    /// <summary>
    /// Compressed, with the charts' script, which is two thirds of it. A page over a slow line of 4 Mbit/s is there within two seconds.
    /// </summary>
    private const int MostBytes = 700_000;

    private const int Times = 7;

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

    [MeasuredFact]
    public async Task FirstPaint_BeforeALargeHistory_IsMeasured()
    {
        await using var browser = await Chromium.StartAsync();
        output.WriteLine($"| view | first paint, ms | largest paint, ms | drawn, ms | median of {Times}, nothing cached |");
        foreach (var route in new[] { "#/bay", "#/shift", "#/oee", "#/cuts", "#/blades", "#/alarms" })
        {
            var (first, largest, drawn) = (new List<double>(), new List<double>(), new List<double>());
            for (var i = 0; i < Times; i++)
            {
                await using var page = await browser.OpenAsync(Screen.Desktop, false, MeasuredFactAttribute.Address!, TimeProvider.System);
                await page.GoAsync(route);
                drawn.Add(await page.Tab.EvaluateAsync<double>("() => performance.now()"));
                first.Add(await page.Tab.EvaluateAsync<double>("() => performance.getEntriesByName('first-contentful-paint')[0].startTime"));
                largest.Add(await page.Tab.EvaluateAsync<double>("() => new Promise(done => new PerformanceObserver(list => done(list.getEntries().at(-1).startTime)).observe({ type: 'largest-contentful-paint', buffered: true }))"));
            }

            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {route} | {Median(first):0} | {Median(largest):0} | {Median(drawn):0} |"));
        }
    }

    private static double Median(List<double> values) => values.Order().ElementAt(values.Count / 2);

    /// <summary>A measurement, not a test: runs where the environment variable <c>SAWEDGE_PAGE_ADDRESS</c> says where the page is.</summary>
    [AttributeUsage(AttributeTargets.Method)]
    private sealed class MeasuredFactAttribute : FactAttribute
    {
        public MeasuredFactAttribute() => Skip = Address is null ? "a measurement: SAWEDGE_PAGE_ADDRESS must say where a page is served, as by 'SawEdge.Benchmarks serve'" : null;

        public static Uri? Address { get; } = Environment.GetEnvironmentVariable("SAWEDGE_PAGE_ADDRESS") is { Length: > 0 } address ? new Uri(address) : null;
    }
}
