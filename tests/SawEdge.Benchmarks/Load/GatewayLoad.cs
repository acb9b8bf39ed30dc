using System.Diagnostics;
using System.Globalization;
using System.Text.Json.Nodes;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;

namespace SawEdge.Benchmarks.Load;

/// <summary>Memory and processor time of a gateway process that polls many virtual saws, which run in this process.</summary>
internal static class GatewayLoad
{
    private const int UnitsPerDevice = 10;

    public static async Task<int> RunAsync(int seconds)
    {
        Console.WriteLine($"gateway process polling over Modbus TCP at 10 Hz, history on disk, {seconds} s each after 10 s to settle");
        Console.WriteLine("saws  frames/s due  frames/s seen  CPU % of one core  working set MB");
        foreach (var saws in new[] { 10, 100 })
            await MeasureAsync(saws, seconds);
        return 0;
    }

    private static async Task MeasureAsync(int count, int seconds)
    {
        var folder = Directory.CreateTempSubdirectory("sawedge-load-").FullName;
        var template = Plant.Create(TimeProvider.System.GetUtcNow(), withFaults: false).Saws[0];
        var saws = Enumerable.Range(1, count).Select(n => new LiveSaw(
            new VirtualSaw(template.Options with { Machine = template.Options.Machine with { Name = string.Create(CultureInfo.InvariantCulture, $"s{n}") }, Seed = (ulong)n }), TimeProvider.System)).ToArray();
        var devices = saws.Chunk(UnitsPerDevice)
            .Select(chunk => ModbusTcpServer.Start(chunk.Index().ToDictionary(pair => (byte)(pair.Index + 1), pair => new ModbusUnit(pair.Item, RegisterLayout.Plain))))
            .ToArray();
        var file = Path.Combine(folder, "sawedge.json");
        await File.WriteAllTextAsync(file, Configuration(saws, devices));

        var start = new ProcessStartInfo("dotnet") { RedirectStandardOutput = true };
        foreach (var argument in new[] { Path.Combine(AppContext.BaseDirectory, "sawedge.dll"), "run", file, "--level", "Warning" })
            start.ArgumentList.Add(argument);
        using var gateway = Process.Start(start)!;
        await Task.Delay(TimeSpan.FromSeconds(10));
        var requests = devices.Sum(device => device.Requests);
        var cpu = gateway.TotalProcessorTime;
        var begun = Stopwatch.GetTimestamp();
        await Task.Delay(TimeSpan.FromSeconds(seconds));
        gateway.Refresh();
        var elapsed = Stopwatch.GetElapsedTime(begun).TotalSeconds;
        var used = (gateway.TotalProcessorTime - cpu).TotalSeconds;
        var served = devices.Sum(device => device.Requests) - requests;
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{count,4}  {count * 10,12}  {served / 2.0 / elapsed,13:N0}  {used / elapsed * 100,17:0.0}  {gateway.WorkingSet64 / 1048576.0,14:0}"));
        using (var kill = Process.Start("kill", ["-INT", gateway.Id.ToString(CultureInfo.InvariantCulture)]))
            await kill.WaitForExitAsync();
        await gateway.WaitForExitAsync();
        foreach (var device in devices)
            await device.DisposeAsync();
        SqliteConnection.ClearAllPools();
        Directory.Delete(folder, recursive: true);
    }

    private static string Configuration(LiveSaw[] saws, ModbusTcpServer[] devices)
    {
        var root = new JsonObject
        {
            ["site"] = "load",
            ["gateway"] = "load",
            ["dataFolder"] = "history",
            ["http"] = new JsonObject { ["enabled"] = false },
            ["devices"] = new JsonArray([.. devices.Index().Select(pair => new JsonObject { ["name"] = $"d{pair.Index}", ["host"] = "127.0.0.1", ["port"] = pair.Item.Port })]),
            ["saws"] = new JsonArray([.. saws.Index().Select(pair => new JsonObject
            {
                ["name"] = pair.Item.Name,
                ["source"] = "modbus",
                ["device"] = $"d{pair.Index / UnitsPerDevice}",
                ["unit"] = (pair.Index % UnitsPerDevice) + 1,
                ["interval"] = "100 ms",
                ["signals"] = Signals(),
            })]),
        };
        return root.ToJsonString();
    }

    /// <summary>The signals of one saw: two requests a frame, holding registers and discrete inputs.</summary>
    public static JsonObject Signals() => new()
    {
        [SignalInfo.Of(Signal.HeadPosition).Name] = new JsonObject { ["address"] = "holding 0", ["type"] = "int16", ["scale"] = 0.1 },
        [SignalInfo.Of(Signal.BladeSpeed).Name] = new JsonObject { ["address"] = "holding 1", ["type"] = "uint16", ["scale"] = 0.1 },
        [SignalInfo.Of(Signal.MotorLoad).Name] = new JsonObject { ["address"] = "holding 2", ["type"] = "float32" },
        [SignalInfo.Of(Signal.PartCount).Name] = new JsonObject { ["address"] = "holding 4", ["type"] = "uint32" },
        [SignalInfo.Of(Signal.FaultCode).Name] = new JsonObject { ["address"] = "holding 6", ["type"] = "uint16" },
        [SignalInfo.Of(Signal.Job).Name] = new JsonObject { ["address"] = "holding 8", ["type"] = "ascii", ["registers"] = 8 },
        [SignalInfo.Of(Signal.CycleActive).Name] = new JsonObject { ["address"] = "discrete 0" },
        [SignalInfo.Of(Signal.Cutting).Name] = new JsonObject { ["address"] = "discrete 1" },
        [SignalInfo.Of(Signal.BladeRunning).Name] = new JsonObject { ["address"] = "discrete 2" },
    };
}
