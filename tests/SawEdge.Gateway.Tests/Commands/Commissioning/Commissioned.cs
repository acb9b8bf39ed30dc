using System.CommandLine;
using System.Globalization;
using SawEdge.Gateway.Commands.Commissioning;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands.Commissioning;

/// <summary>Runs <c>watch</c> and <c>scan</c> as a shell would.</summary>
internal static class Commissioned
{
    /// <summary>Runs a command and takes everything it says.</summary>
    public static async Task<(int Code, string[] Output, string[] Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        var root = new RootCommand { WatchCommand.Create(Sample.NoEnvironment, TimeProvider.System), ScanCommand.Create(Sample.NoEnvironment, TimeProvider.System) };
        var code = await root.Parse(arguments).InvokeAsync(new InvocationConfiguration { Output = output, Error = error });
        return (code, Lines(output), Lines(error));
    }

    /// <summary>Scans a device on loopback.</summary>
    public static Task<(int Code, string[] Output, string[] Error)> ScanAsync(int port, params string[] arguments) =>
        RunAsync(["scan", "--host", "127.0.0.1", "--port", Text(port), .. arguments]);

    /// <summary>Writes a configuration of saws at one Modbus device on loopback.</summary>
    /// <param name="folder">Where.</param>
    /// <param name="port">The device's port.</param>
    /// <param name="signals">The mappings of the saw <c>north</c>, unit 1.</param>
    /// <param name="more">Further root members, each with a comma before it.</param>
    public static string Configure(TempFolder folder, int port, string signals, string more = "")
    {
        var file = folder.File("sawedge.json");
        File.WriteAllText(file, string.Create(CultureInfo.InvariantCulture, $$"""
            { "site": "Riverbend", "gateway": "g", "dataFolder": "data", "http": { "enabled": false },
              "devices": [ { "name": "plc", "host": "127.0.0.1", "port": {{port}}, "responseTimeout": "200 ms" } ],
              "saws": [
                { "name": "north", "source": "modbus", "device": "plc", "unit": 1, "interval": "50 ms", "signals": { {{signals}} } },
                { "name": "quay", "source": "modbus", "device": "plc", "unit": 2, "interval": "50 ms", "signals": { "head_position": { "address": "holding 0", "type": "uint16" }, "motor_load": { "address": "holding 1", "type": "uint16" } } } ]{{more}} }
            """));
        return file;
    }

    public static string Text(int number) => number.ToString(CultureInfo.InvariantCulture);

    private static string[] Lines(StringWriter writer)
    {
        var lines = writer.ToString().Split(Environment.NewLine);
        return lines[^1].Length == 0 ? lines[..^1] : lines;
    }
}
