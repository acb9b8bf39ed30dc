using System.Globalization;
using System.Net.Sockets;
using Microsoft.Playwright;
using SawEdge.Benchmarks.Api;
using SawEdge.Page.Tests.Support;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.Page;

/// <summary>How soon the page shows something before a history of a million cycles of 50 saws, and what an open page costs both sides.</summary>
internal static class PageSpeed
{
    private const int Times = 7;
    private const int Pages = 1000;

    /// <summary>Measures and prints two tables.</summary>
    /// <param name="folder">Where the history is or will be.</param>
    /// <param name="output">Where to print.</param>
    public static async Task RunAsync(string folder, TextWriter output)
    {
        await using var server = await LargeServer.StartAsync(1_000_000, folder, 0, output);
        await using var browser = await Chromium.StartAsync();
        await output.WriteLineAsync($"| view | first paint, ms | largest paint, ms | drawn, ms | requests | script heap, MB |  (medians of {Times}, nothing cached)");
        await output.WriteLineAsync("|---|---|---|---|---|---|");
        foreach (var route in new[] { "#/bay", "#/shift", "#/oee", "#/cuts", "#/blades", "#/alarms" })
        {
            var (first, largest, drawn, asked, heap) = (new List<double>(), new List<double>(), new List<double>(), new List<double>(), new List<double>());
            for (var i = 0; i < Times; i++)
            {
                // The person's clock shows the plant's time.
                await using var page = await browser.OpenAsync(Screen.Desktop, false, server.Address, server.Machine);
                var requests = 0;
                page.Tab.Request += (_, _) => Interlocked.Increment(ref requests);
                await page.GoAsync(route);
                drawn.Add(await page.Tab.EvaluateAsync<double>("() => performance.now()"));
                first.Add(await page.Tab.EvaluateAsync<double>("() => performance.getEntriesByName('first-contentful-paint')[0].startTime"));
                largest.Add(await page.Tab.EvaluateAsync<double>("() => new Promise(done => new PerformanceObserver(list => done(list.getEntries().at(-1).startTime)).observe({ type: 'largest-contentful-paint', buffered: true }))"));
                asked.Add(requests);
                heap.Add(await HeapAsync(page.Tab));
                if (page.Troubles.Count > 0)
                    throw new InvalidOperationException($"{route}: {string.Join('\n', page.Troubles)}");
            }

            await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"| {route} | {Median(first):0} | {Median(largest):0} | {Median(drawn):0} | {Median(asked):0} | {Median(heap):0.0} |"));
        }

        await MeasureReadersAsync(server.Address, output);
    }

    // What a page that stays open costs the gateway: the connection of its event stream. The sockets of the pages' side are in this process,
    // too: an upper bound.
    private static async Task MeasureReadersAsync(Uri address, TextWriter output)
    {
        var sockets = new List<Socket>();
        try
        {
            for (var i = 0; i < 10; i++)
                sockets.Add(await OpenAsync(address));
            var heap = GC.GetTotalMemory(forceFullCollection: true);
            for (var i = 0; i < Pages; i++)
                sockets.Add(await OpenAsync(address));
            var each = (GC.GetTotalMemory(forceFullCollection: true) - heap) / 1e3 / Pages;
            await output.WriteLineAsync();
            await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{Pages} open pages: {each:0.0} kB of the gateway's managed heap each"));
        }
        finally
        {
            sockets.ForEach(socket => socket.Dispose());
        }
    }

    private static async Task<Socket> OpenAsync(Uri address)
    {
        var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp);
        await socket.ConnectAsync(address.Host, address.Port);
        await socket.SendAsync(System.Text.Encoding.ASCII.GetBytes($"GET /api/v1/live HTTP/1.1\r\nHost: {address.Authority}\r\nAccept: text/event-stream\r\n\r\n"));
        var head = new byte[4096];
        var read = await socket.ReceiveAsync(head);
        return System.Text.Encoding.ASCII.GetString(head, 0, read).StartsWith("HTTP/1.1 200", StringComparison.Ordinal)
            ? socket
            : throw new InvalidOperationException(System.Text.Encoding.ASCII.GetString(head, 0, read));
    }

    private static async Task<double> HeapAsync(IPage tab)
    {
        var session = await tab.Context.NewCDPSessionAsync(tab);
        await session.SendAsync("HeapProfiler.collectGarbage");
        await session.SendAsync("Performance.enable");
        var metrics = await session.SendAsync("Performance.getMetrics");
        return metrics!.Value.GetProperty("metrics").EnumerateArray().Single(metric => metric.GetProperty("name").GetString() == "JSHeapUsedSize").GetProperty("value").GetDouble() / 1e6;
    }

    private static double Median(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
