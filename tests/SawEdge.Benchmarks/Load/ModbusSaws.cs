using System.Diagnostics;
using System.Diagnostics.Metrics;
using System.Globalization;
using System.Text.Json.Nodes;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;

namespace SawEdge.Benchmarks.Load;

/// <summary>
/// A whole gateway in this process (polls, pipelines, alarms, history on the disk; no web server) that polls many virtual Modbus saws at 10 Hz
/// over a connection each. The saws run in a second process, so that processor time and memory are the gateway's own.
/// </summary>
internal static class ModbusSaws
{
    private static readonly TimeSpan Settling = TimeSpan.FromSeconds(15);

    // The pollers report from many threads.
    private static readonly Lock Gate = new();

    /// <summary>Serves so many saws, prints their ports, and ends with its input.</summary>
    public static async Task<int> ServeAsync(int count)
    {
        var template = Plant.Create(TimeProvider.System.GetUtcNow(), withFaults: false).Saws[0];
        var devices = Enumerable.Range(1, count).Select(n => ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit>
        {
            [1] = new(new LiveSaw(new VirtualSaw(template.Options with { Machine = template.Options.Machine with { Name = Say($"s{n}") }, Seed = (ulong)n }), TimeProvider.System), RegisterLayout.Plain),
        })).ToList();
        Console.WriteLine(string.Join(' ', devices.Select(device => Say($"{device.Port}"))));
        using var process = Process.GetCurrentProcess();
        while (await Console.In.ReadLineAsync() is not null)
        {
            process.Refresh();
            Console.WriteLine(Say($"{process.TotalProcessorTime.TotalSeconds} {devices.Sum(device => device.Requests)}"));
        }

        foreach (var device in devices)
            await device.DisposeAsync();
        return 0;
    }

    /// <summary>Measures and prints.</summary>
    public static async Task<int> RunAsync(int count, int seconds)
    {
        var folder = Directory.CreateTempSubdirectory("sawedge-saws-").FullName;
        using var server = StartServer(count);
        var ports = (await server.StandardOutput.ReadLineAsync())!.Split(' ');
        var file = Path.Combine(folder, "sawedge.json");
        await File.WriteAllTextAsync(file, Configuration(ports));
        var options = ConfigurationFile.Load(file, new Dictionary<string, string>()) is { Options: { } good } ? good : throw new InvalidOperationException("The configuration of the measurement is wrong.");

        var lateness = new List<double>(count * 10 * (seconds + 60));
        long missed = 0;
        var isMeasuring = false;
        using var listener = new MeterListener { InstrumentPublished = (instrument, own) => Listen(instrument, own) };
        listener.SetMeasurementEventCallback<double>((_, late, _, _) =>
        {
            lock (Gate)
            {
                if (isMeasuring)
                    lateness.Add(late);
            }
        });
        listener.SetMeasurementEventCallback<long>((_, polls, _, _) => Interlocked.Add(ref missed, polls));
        listener.Start();

        using var stop = new CancellationTokenSource();
        var running = GatewayHost.RunAsync(options, new GatewayClocks(TimeProvider.System, TimeProvider.System), LogForm.Text, LogLevel.Warning, null, null, stop.Token);
        await Task.WhenAny(running, Task.Delay(Settling));
        var missedBefore = Interlocked.Exchange(ref missed, 0);

        using var own = Process.GetCurrentProcess();
        var (cpu, collections, allocated, start) = (own.TotalProcessorTime, GC.CollectionCount(2), GC.GetTotalAllocatedBytes(), Stopwatch.GetTimestamp());
        var (servedCpu, requests) = await AskAsync(server);
        lock (Gate)
            isMeasuring = true;
        await Task.WhenAny(running, Task.Delay(TimeSpan.FromSeconds(seconds)));
        lock (Gate)
            isMeasuring = false;
        own.Refresh();
        var elapsed = Stopwatch.GetElapsedTime(start).TotalSeconds;
        var (servedCpuAfter, requestsAfter) = await AskAsync(server);
        var used = (own.TotalProcessorTime - cpu).TotalSeconds;

        lateness.Sort();
        Console.WriteLine(Say($"{count} saws, 10 Hz, a connection each, whole gateway without web server, {elapsed:0} s after {Settling.TotalSeconds:0} s to settle; {Environment.ProcessorCount} processors"));
        Console.WriteLine(Say($"polls: {lateness.Count} made of {count * 10 * elapsed:0} due, {Interlocked.Read(ref missed)} missed ({missedBefore} while it started); {(requestsAfter - requests) / elapsed:0} requests/s"));
        Console.WriteLine(Say($"a poll begins after it is due: p50 {At(lateness, 0.5):0.00} ms, p99 {At(lateness, 0.99):0.00} ms, p99.9 {At(lateness, 0.999):0.00} ms, longest {At(lateness, 1):0.0} ms"));
        Console.WriteLine(Say($"gateway: {used / elapsed * 100:0} % of one core, {own.WorkingSet64 / 1048576.0:0} MB working set, {GC.GetTotalMemory(false) / 1048576.0:0} MB managed, {(GC.GetTotalAllocatedBytes() - allocated) / elapsed / 1048576:0.0} MB/s allocated, {GC.CollectionCount(2) - collections} full collections, {ThreadPool.ThreadCount} pool threads"));
        Console.WriteLine(Say($"saws (the other process): {(servedCpuAfter - servedCpu) / elapsed * 100:0} % of one core"));

        await stop.CancelAsync();
        var failure = await running;
        server.StandardInput.Close();
        await server.WaitForExitAsync();
        SqliteConnection.ClearAllPools();
        Directory.Delete(folder, recursive: true);
        if (failure is not null)
            Console.WriteLine(failure);
        return failure is null ? 0 : 1;
    }

    private static Process StartServer(int count)
    {
        var start = new ProcessStartInfo("dotnet") { RedirectStandardOutput = true, RedirectStandardInput = true };
        foreach (var argument in new[] { typeof(ModbusSaws).Assembly.Location, "modbus-saws-serve", Say($"{count}") })
            start.ArgumentList.Add(argument);
        return Process.Start(start)!;
    }

    private static async Task<(double Cpu, long Requests)> AskAsync(Process server)
    {
        await server.StandardInput.WriteLineAsync();
        await server.StandardInput.FlushAsync();
        var answer = (await server.StandardOutput.ReadLineAsync())!.Split(' ');
        return (double.Parse(answer[0], CultureInfo.InvariantCulture), long.Parse(answer[1], CultureInfo.InvariantCulture));
    }

    private static void Listen(Instrument instrument, MeterListener listener)
    {
        if (instrument.Meter.Name == PollMetrics.Name)
            listener.EnableMeasurementEvents(instrument);
    }

    private static double At(List<double> sorted, double share) => sorted.Count == 0 ? double.NaN : sorted[Math.Clamp((int)Math.Ceiling(share * sorted.Count) - 1, 0, sorted.Count - 1)];

    private static string Configuration(string[] ports)
    {
        var root = new JsonObject
        {
            ["site"] = "load",
            ["gateway"] = "load",
            ["dataFolder"] = "history",
            ["http"] = new JsonObject { ["enabled"] = false },
            ["devices"] = new JsonArray([.. ports.Index().Select(pair => new JsonObject { ["name"] = Say($"d{pair.Index}"), ["host"] = "127.0.0.1", ["port"] = int.Parse(pair.Item, CultureInfo.InvariantCulture) })]),
            ["saws"] = new JsonArray([.. ports.Index().Select(pair => new JsonObject
            {
                ["name"] = Say($"s{pair.Index}"),
                ["source"] = "modbus",
                ["device"] = Say($"d{pair.Index}"),
                ["interval"] = "100 ms",
                ["signals"] = GatewayLoad.Signals(),
            })]),
        };
        return root.ToJsonString();
    }

    private static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
