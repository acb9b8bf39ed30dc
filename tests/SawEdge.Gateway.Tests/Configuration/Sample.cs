using System.Text.Json.Nodes;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>A configuration without a mistake, to change in one place, and the loading of texts through a real file.</summary>
internal static class Sample
{
    /// <summary>No environment variable.</summary>
    public static readonly IReadOnlyDictionary<string, string> NoEnvironment = new Dictionary<string, string>();

    private const string Good = """
        {
          "site": "Riverbend", "gateway": "hall-2", "dataFolder": "data",
          "devices": [ { "name": "plc", "host": "10.0.0.5" } ],
          "brokers": [ { "name": "hall", "host": "broker.example" } ],
          "saws": [
            {
              "name": "saw-1", "source": "modbus", "device": "plc",
              "signals": {
                "head_position": { "address": "holding 100", "type": "float32" },
                "motor_load": { "address": "holding 102", "type": "uint16", "unit": "W" },
                "cutting": { "address": "coil 3" },
                "mode": { "address": "holding 104", "type": "uint16", "texts": { "1": "automatic" } },
                "job": { "address": "holding 110", "type": "ascii", "registers": 8 },
                "part_count": { "address": "input 7", "type": "uint32" }
              }
            },
            {
              "name": "saw-2", "source": "mqtt", "broker": "hall", "topic": "saw-2/frame",
              "signals": {
                "head_position": { "member": "head" },
                "motor_load": { "member": "load" },
                "cutting": { "topic": "saw-2/cutting" }
              }
            }
          ],
          "influx": [
            { "name": "two", "url": "https://influx.example", "bucket": "saws", "token": "t" },
            { "name": "one", "url": "http://127.0.0.1:8086", "version": 1, "database": "saws" }
          ]
        }
        """;

    /// <summary>The good configuration with one setting changed.</summary>
    /// <param name="path">The setting, as findings name it; empty for no change.</param>
    /// <param name="json">What stands there, or null to take it away.</param>
    public static string With(string path, string? json) => With((path, json));

    /// <summary>The good configuration with several settings changed.</summary>
    public static string With(params (string Path, string? Json)[] changes)
    {
        var root = JsonNode.Parse(Good)!;
        foreach (var (path, json) in changes.Where(change => change.Path.Length > 0))
            Change(root, path.Replace("[", ".[", StringComparison.Ordinal).Split('.', StringSplitOptions.RemoveEmptyEntries), json);
        return root.ToJsonString();
    }

    /// <summary>Loads a text through a file.</summary>
    public static LoadedConfiguration Load(string text, IReadOnlyDictionary<string, string>? environment = null)
    {
        using var folder = new TempFolder();
        return Load(folder, text, environment);
    }

    /// <summary>Loads a text through a file that only its owner may read.</summary>
    public static LoadedConfiguration Load(TempFolder folder, string text, IReadOnlyDictionary<string, string>? environment = null)
    {
        var path = folder.File("sawedge.json");
        File.WriteAllText(path, text);
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        return ConfigurationFile.Load(path, environment ?? NoEnvironment);
    }

    /// <summary>The findings as lines: severity, path and message, without places.</summary>
    public static string[] Lines(this LoadedConfiguration loaded) =>
        [.. loaded.Findings.Select(finding => $"{(finding.Severity == FindingSeverity.Error ? "error" : "warning")} {finding.Path}: {finding.Message}")];

    /// <summary>The options of a configuration that must be good.</summary>
    public static GatewayOptions Options(this LoadedConfiguration loaded)
    {
        Assert.Empty(loaded.Errors);
        return Assert.IsType<GatewayOptions>(loaded.Options);
    }

    private static void Change(JsonNode root, string[] steps, string? json)
    {
        var node = root;
        foreach (var step in steps[..^1])
            node = step[0] == '[' ? node[int.Parse(step[1..^1], System.Globalization.CultureInfo.InvariantCulture)]! : node[step] ?? (node[step] = new JsonObject());
        var last = steps[^1];
        var value = json is null ? null : JsonNode.Parse(json);
        if (last[0] == '[')
        {
            var index = int.Parse(last[1..^1], System.Globalization.CultureInfo.InvariantCulture);
            if (index == node.AsArray().Count)
                node.AsArray().Add(value);
            else if (json is null)
                node.AsArray().RemoveAt(index);
            else
                node[index] = value;
        }
        else if (json is null)
        {
            node.AsObject().Remove(last);
        }
        else
        {
            node[last] = value;
        }
    }
}
