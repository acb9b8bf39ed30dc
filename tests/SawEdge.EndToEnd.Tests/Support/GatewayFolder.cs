using System.Text.Json.Nodes;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>A folder with a configuration as a technician writes it, a job list, and the history that comes of it.</summary>
internal sealed class GatewayFolder : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly JsonObject _root = new() { ["site"] = "Tarn Quay", ["gateway"] = "hall-1", ["dataFolder"] = "data", ["jobsFile"] = "jobs.csv", ["http"] = new JsonObject { ["enabled"] = false }, ["history"] = new JsonObject { ["budget"] = "1 GB" } };

    public GatewayFolder()
    {
        System.IO.File.WriteAllText(File("jobs.csv"), SmallSaw.JobList);
        History = new HistoryFile(File("data"));
    }

    /// <summary>The configuration.</summary>
    public string Configuration => File("sawedge.json");

    /// <summary>The history.</summary>
    public HistoryFile History { get; }

    /// <summary>The full path of a file.</summary>
    public string File(string name) => _folder.File(name);

    /// <summary>Adds a Modbus device on loopback.</summary>
    public GatewayFolder WithDevice(string name, int port, string responseTimeout = "5 s") =>
        Add("devices", new JsonObject { ["name"] = name, ["host"] = "127.0.0.1", ["port"] = port, ["responseTimeout"] = responseTimeout });

    /// <summary>Adds a serial line.</summary>
    public GatewayFolder WithLine(string name, string line) =>
        Add("devices", new JsonObject { ["name"] = name, ["kind"] = "serial", ["line"] = line, ["baud"] = 115200, ["parity"] = "none", ["responseTimeout"] = "5 s" });

    /// <summary>Adds a serial server on loopback.</summary>
    public GatewayFolder WithSerialServer(string name, int port) =>
        Add("devices", new JsonObject { ["name"] = name, ["kind"] = "rtu_tcp", ["host"] = "127.0.0.1", ["port"] = port, ["responseTimeout"] = "5 s" });

    /// <summary>Adds a saw.</summary>
    public GatewayFolder WithSaw(string name, string device, int unit, string signals = PlainRegisters.Signals, string interval = "50 ms") =>
        Add("saws", new JsonObject { ["name"] = name, ["source"] = "modbus", ["device"] = device, ["unit"] = unit, ["interval"] = interval, ["signals"] = JsonNode.Parse(signals) });

    /// <summary>Adds a saw of any kind.</summary>
    public GatewayFolder WithSaw(JsonNode saw) => Add("saws", saw.AsObject());

    /// <summary>Writes to an InfluxDB 1.x server.</summary>
    public GatewayFolder WithInflux1(InfluxServer server, string database) =>
        Add("influx", new JsonObject { ["name"] = "one", ["url"] = server.Url.ToString(), ["version"] = 1, ["database"] = database, ["maximumWait"] = "100 ms" });

    /// <summary>Writes to a server of the version 2 interface.</summary>
    public GatewayFolder WithInflux2(VictoriaServer server) =>
        Add("influx", new JsonObject { ["name"] = "two", ["url"] = server.Url.ToString(), ["version"] = "2", ["org"] = "tarn", ["bucket"] = "saws", ["token"] = "not needed here", ["maximumWait"] = "100 ms" });

    /// <summary>States any other setting.</summary>
    public GatewayFolder With(string name, JsonNode value)
    {
        _root[name] = value;
        return this;
    }

    /// <summary>Takes a saw out.</summary>
    public void WithoutSaw(string name) => _root["saws"]!.AsArray().Remove(_root["saws"]!.AsArray().Single(saw => (string?)saw!["name"] == name));

    /// <summary>The configuration as text.</summary>
    public string Text => _root.ToJsonString(new() { WriteIndented = true });

    /// <summary>Writes the configuration.</summary>
    public void Write() => System.IO.File.WriteAllText(Configuration, Text);

    /// <summary>Writes the configuration and starts the gateway.</summary>
    public GatewayProcess Start()
    {
        Write();
        return GatewayProcess.Run(Configuration);
    }

    public void Dispose() => _folder.Dispose();

    private GatewayFolder Add(string list, JsonObject item)
    {
        if (_root[list] is not JsonArray items)
            _root[list] = items = [];
        items.Add(item);
        return this;
    }
}
