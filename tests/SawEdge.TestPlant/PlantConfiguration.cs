using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Saws;

namespace SawEdge.TestPlant;

/// <summary>The configuration of a gateway at plant Riverbend, as a technician would write it.</summary>
internal static class PlantConfiguration
{
    /// <summary>The plant's time zone.</summary>
    public const string TimeZone = "America/Chicago";

    private static readonly JsonSerializerOptions Indented = new() { WriteIndented = true };

    /// <summary>The topic on which a saw publishes.</summary>
    public static string Topic(string saw) => $"riverbend/{saw}/frame";

    /// <summary>Writes it.</summary>
    /// <param name="saws">The saws.</param>
    /// <param name="interval">Time between frames.</param>
    /// <param name="brokerPort">Port of the broker on loopback.</param>
    /// <param name="more">Further members of the root, or in place of those here.</param>
    public static string Write(IReadOnlyList<VirtualSawOptions> saws, TimeSpan interval, int brokerPort, JsonObject? more = null)
    {
        var root = new JsonObject
        {
            ["site"] = "Riverbend",
            ["gateway"] = "hall-1",
            ["dataFolder"] = ".",
            ["jobsFile"] = "jobs.csv",
            ["timeZone"] = TimeZone,
            ["brokers"] = new JsonArray(new JsonObject { ["name"] = "hall", ["host"] = "127.0.0.1", ["port"] = brokerPort }),
            ["saws"] = new JsonArray([.. saws.Zip(PlantSaws.Names, (saw, name) => Saw(saw.Machine, name.Group, interval))]),
            ["calendar"] = new JsonObject
            {
                ["shifts"] = new JsonArray(
                    Shift("early", "06:00", "14:00", ("09:00", "09:20")),
                    Shift("late", "14:00", "22:00", ("18:00", "18:30"))),
            },
        };
        foreach (var (name, value) in more ?? [])
            root[name] = value?.DeepClone();
        return root.ToJsonString(Indented);
    }

    private static JsonObject Shift(string name, string from, string to, (string From, string To) pause) => new()
    {
        ["name"] = name,
        ["from"] = from,
        ["to"] = to,
        ["breaks"] = new JsonArray(new JsonObject { ["from"] = pause.From, ["to"] = pause.To }),
    };

    private static JsonObject Saw(MachineProfile machine, string group, TimeSpan interval) => new()
    {
        ["name"] = machine.Name,
        ["group"] = group,
        ["source"] = "mqtt",
        ["broker"] = "hall",
        ["topic"] = Topic(machine.Name),
        ["timeMember"] = "time",
        ["interval"] = With(interval.TotalMilliseconds, "ms"),
        ["machine"] = new JsonObject
        {
            ["ratedPower"] = With(machine.RatedPowerKw, "kW"),
            ["bladeLength"] = With(machine.BladeLengthMm, "mm"),
            ["restHeight"] = With(machine.RestHeightMm, "mm"),
            ["maximumDescent"] = With(machine.MaximumDescentMmMin, "mm/min"),
            ["approachRate"] = With(machine.ApproachMmMin, "mm/min"),
            ["returnRate"] = With(machine.ReturnMmMin, "mm/min"),
            ["shuttleStroke"] = With(machine.ShuttleStrokeMm, "mm"),
            ["strokeTime"] = With(machine.IndexStrokeS, "s"),
            ["clampTime"] = With(machine.ClampS, "s"),
            ["unclampTime"] = With(machine.UnclampS, "s"),
        },
        ["signals"] = new JsonObject(SignalInfo.All.Select(info => KeyValuePair.Create<string, JsonNode?>(info.Name, new JsonObject { ["member"] = info.Name }))),
    };

    private static string With(double value, string unit) => string.Create(CultureInfo.InvariantCulture, $"{value} {unit}");
}
