using System.Diagnostics;
using System.Globalization;
using System.Text;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.TestSupport;

namespace SawEdge.Benchmarks.History;

/// <summary>A backlog from the history into a real influxd, beside posting the same bytes, encoded and compressed beforehand, with a bare HTTP client.</summary>
public static class DrainBenchmark
{
    private const int Cycles = 60_000;
    private const int Batch = 5000;
    private const int Rounds = 3;

    /// <summary>Measures and prints a table; says why not where influxd is not installed.</summary>
    public static async Task RunAsync(TextWriter output, CancellationToken cancellation = default)
    {
        if (Peer.Find(InfluxServer.Program) is null)
        {
            await output.WriteLineAsync("The drain into influxd was not measured: influxd is not installed.");
            return;
        }

        using var folder = new TempFolder();
        using var database = HistoryDatabase.Open(folder.Path);
        var writer = new HistoryWriter(database, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
        var run = writer.RunAsync(cancellation);
        var cycles = Enumerable.Range(0, Cycles).Select(i => SampleCycles.Make($"saw{i % 20}", i)).ToList();
        foreach (var chunk in cycles.Chunk(1000))
            await writer.AppendAsync(chunk, cancellation);

        var (drained, posted) = (0.0, 0.0);

        // The best of some rounds each: other work on the machine only ever makes it slower.
        for (var round = 0; round < Rounds; round++)
        {
            posted = Math.Max(posted, await PostAsync(cycles, cancellation));
            await writer.SaveCursorAsync("drain", 0, [], cancellation);
            drained = Math.Max(drained, await DrainAsync(database, writer, cancellation));
        }

        writer.Complete();
        await run;
        await output.WriteLineAsync("| backlog into influxd 1.x, 43 fields a point | gateway, points/s | bare HTTP, points/s | ratio |");
        await output.WriteLineAsync("|---|---|---|---|");
        await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"| {Cycles:N0} cycles in batches of {Batch:N0} | {drained:N0} | {posted:N0} | {drained / posted:0.00} |"));
    }

    private static async Task<double> DrainAsync(HistoryDatabase database, HistoryWriter writer, CancellationToken cancellation)
    {
        await using var server = await InfluxServer.StartAsync("drain");
        var options = new InfluxOptions { Name = "drain", Url = server.Url, Version1 = true, Bucket = "drain", BatchSize = Batch };
        using var destination = new Destination(options, TimeProvider.System, NullLogger<Destination>.Instance);
        var lane = new JournalLane(destination, "site", "gateway", new HistoryReader(database), writer);
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var started = Stopwatch.GetTimestamp();
        var run = lane.RunAsync(stop.Token);
        await Until.TrueAsync(() => lane.Cursor >= Cycles, "everything is drained", TimeSpan.FromMinutes(5));
        var elapsed = Stopwatch.GetElapsedTime(started);
        await stop.CancelAsync();
        try
        {
            await run;
        }
        catch (OperationCanceledException)
        {
            // As asked.
        }

        await CheckAsync(server);
        return Cycles / elapsed.TotalSeconds;
    }

    private static async Task<double> PostAsync(List<FinishedCycle> cycles, CancellationToken cancellation)
    {
        await using var server = await InfluxServer.StartAsync("drain");
        var mapper = new PointMapper("site", "gateway");
        var bodies = cycles.Select(cycle => mapper.ToLine(cycle.Record)).Chunk(Batch).Select(lines => InfluxSender.Compressed(Encoding.UTF8.GetBytes(string.Join('\n', lines)))).ToList();
        using var http = new HttpClient();
        var address = new Uri(server.Url, "/write?db=drain&precision=ms");
        var started = Stopwatch.GetTimestamp();
        foreach (var body in bodies)
        {
            using var content = new ByteArrayContent(body);
            content.Headers.ContentEncoding.Add("gzip");
            using var response = await http.PostAsync(address, content, cancellation);
            response.EnsureSuccessStatusCode();
        }

        var elapsed = Stopwatch.GetElapsedTime(started);
        await CheckAsync(server);
        return Cycles / elapsed.TotalSeconds;
    }

    private static async Task CheckAsync(InfluxServer server)
    {
        var count = await server.NumberAsync("SELECT count(frames) FROM cycle", "drain");
        if (count != Cycles)
            throw new InvalidOperationException($"{count} points arrived instead of {Cycles}.");
    }
}
