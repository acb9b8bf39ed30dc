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

    /// <summary>Watches a saw until what is printed, from the last block on, is what is waited for; then ends it as Ctrl+C would.</summary>
    /// <param name="until">Given the lines of the last whole block.</param>
    /// <param name="arguments">Arguments of <c>watch</c>.</param>
    /// <returns>The exit code and the last block.</returns>
    public static Task<(int Code, string[] Block)> WatchUntilAsync(Func<string[], bool> until, params string[] arguments) => WatchUntilAsync(block => Task.FromResult(until(block)), arguments);

    /// <inheritdoc cref="WatchUntilAsync(Func{string[], bool}, string[])"/>
    public static async Task<(int Code, string[] Block)> WatchUntilAsync(Func<string[], Task<bool>> until, params string[] arguments)
    {
        var output = new SharedText();
        using var stop = new CancellationTokenSource();
        var running = WatchCommand.Create(Sample.NoEnvironment, TimeProvider.System).Parse([.. arguments, "--plain"]).InvokeAsync(new InvocationConfiguration { Output = output, Error = output }, stop.Token);
        try
        {
            await Until.TrueAsync(async () => running.IsCompleted || await until(LastBlock(output.ToString())), () => $"the picture is as it should be; it is\n{output}");
        }
        finally
        {
            await stop.CancelAsync();
        }

        return (await running, LastBlock(output.ToString()));
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
              "devices": [ { "name": "plc", "host": "127.0.0.1", "port": {{port}}, "responseTimeout": "1 s" } ],
              "saws": [
                { "name": "north", "source": "modbus", "device": "plc", "unit": 1, "interval": "50 ms", "signals": { {{signals}} } },
                { "name": "quay", "source": "modbus", "device": "plc", "unit": 2, "interval": "50 ms", "signals": { "head_position": { "address": "holding 0", "type": "uint16" }, "motor_load": { "address": "holding 1", "type": "uint16" } } } ]{{more}} }
            """));
        return file;
    }

    public static string Text(int number) => number.ToString(CultureInfo.InvariantCulture);

    // Blocks end with an empty line and have one inside, before the line about the cycle.
    private static string[] LastBlock(string text)
    {
        var lines = text.Split(Environment.NewLine);
        var end = Array.FindLastIndex(lines, line => line.StartsWith("reading   ", StringComparison.Ordinal));
        while (end > 0 && end < lines.Length && lines[end].Length > 0)
            end++;
        if (end <= 0 || end >= lines.Length - 1)
            return [];
        var heading = Array.FindLastIndex(lines, end, line => line.StartsWith("signal ", StringComparison.Ordinal));
        return heading < 1 ? [] : lines[(Array.FindLastIndex(lines, heading, line => line.Length == 0) + 1)..end];
    }

    private static string[] Lines(StringWriter writer)
    {
        var lines = writer.ToString().Split(Environment.NewLine);
        return lines[^1].Length == 0 ? lines[..^1] : lines;
    }
}

/// <summary>What one thread writes and another looks at.</summary>
internal sealed class SharedText : TextWriter
{
    private readonly System.Text.StringBuilder _text = new();

    public override System.Text.Encoding Encoding => System.Text.Encoding.UTF8;

    public override void Write(char value)
    {
        lock (_text)
            _text.Append(value);
    }

    public override string ToString()
    {
        lock (_text)
            return _text.ToString();
    }
}
