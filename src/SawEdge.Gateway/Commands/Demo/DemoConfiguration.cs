using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Modbus;

namespace SawEdge.Gateway.Commands.Demo;

/// <summary>Writes the configuration of a gateway for the virtual plant, as a technician would write it by hand.</summary>
internal static class DemoConfiguration
{
    private static readonly JsonSerializerOptions Indented = new() { WriteIndented = true };

    /// <summary>The text of the configuration.</summary>
    /// <param name="plant">The plant.</param>
    /// <param name="modbusPort">Port of its Modbus device on loopback.</param>
    /// <param name="brokerPort">Port of the broker on loopback.</param>
    /// <param name="pagePort">Free port on loopback for the page.</param>
    /// <param name="interval">Time between frames, virtual.</param>
    /// <param name="responseTimeout">How long to wait for a device, virtual.</param>
    public static string Write(Plant plant, int modbusPort, int brokerPort, int pagePort, TimeSpan interval, TimeSpan responseTimeout)
    {
        var root = new JsonObject
        {
            ["site"] = plant.Site,
            ["gateway"] = "demo",
            ["timeZone"] = "UTC",
            ["dataFolder"] = "history",
            ["jobsFile"] = "jobs.csv",
            ["http"] = new JsonObject { ["listen"] = string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{pagePort}") },
            ["devices"] = new JsonArray(new JsonObject { ["name"] = "bay", ["host"] = "127.0.0.1", ["port"] = modbusPort, ["responseTimeout"] = Milliseconds(responseTimeout) }),
            ["brokers"] = new JsonArray(new JsonObject { ["name"] = "inside", ["host"] = "127.0.0.1", ["port"] = brokerPort, ["clientId"] = "sawedge-demo" }),
            ["saws"] = new JsonArray([.. plant.Saws.Select(saw => Saw(saw, interval))]),
            ["calendar"] = Calendar(plant.Start),
        };
        return root.ToJsonString(Indented);
    }

    // Around the clock in three shifts, of which the very first begins as the plant starts: planned time is seen from the first minute on, and
    // there is none before, of which the figures would have to say that nobody saw it.
    private static JsonObject Calendar(DateTimeOffset start)
    {
        string[] names = ["first", "second", "third"];
        var begins = names.Select((_, i) => start.UtcDateTime.AddHours(8 * i)).ToArray();
        var today = Date(start.UtcDateTime);
        return new JsonObject
        {
            ["shifts"] = new JsonArray([.. names.Zip(begins, Shift)]),
            ["extraShifts"] = new JsonArray([.. names.Zip(begins).Where(shift => Date(shift.Second) == today).Select(shift => OnDate(Shift(shift.First, shift.Second), today))]),
            ["holidays"] = new JsonArray(new JsonObject { ["date"] = Date(start.UtcDateTime.AddYears(-1)), ["to"] = today, ["name"] = "before the demo" }),
            ["shortStop"] = "2 min",
        };
    }

    private static JsonObject Shift(string name, DateTime begin) => new() { ["name"] = name, ["from"] = Clock(begin), ["to"] = Clock(begin.AddHours(8)) };

    private static JsonObject OnDate(JsonObject shift, string date)
    {
        shift["date"] = date;
        return shift;
    }

    private static string Date(DateTime moment) => moment.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static string Clock(DateTime moment) => moment.ToString("HH:mm", CultureInfo.InvariantCulture);

    private static JsonObject Saw(PlantSaw saw, TimeSpan interval)
    {
        var machine = saw.Options.Machine;
        var node = new JsonObject
        {
            ["name"] = saw.Name,
            ["source"] = saw.Link == PlantLink.Modbus ? "modbus" : "mqtt",
            ["interval"] = Milliseconds(interval),
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
        };
        if (saw.Layout is { } layout)
        {
            node["device"] = "bay";
            node["unit"] = saw.Unit;
            node["signals"] = new JsonObject(layout.Mapping.Select(field => KeyValuePair.Create<string, JsonNode?>(SignalInfo.Of(field.Signal).Name, Register(field))));
        }
        else
        {
            node["broker"] = "inside";
            node["topic"] = saw.Topic;
            node["timeMember"] = "time";
            node["signals"] = new JsonObject(SignalInfo.All.Select(info => KeyValuePair.Create<string, JsonNode?>(info.Name, new JsonObject { ["member"] = info.Name })));
        }

        return node;
    }

    private static JsonObject Register(RegisterField field)
    {
        var table = field.Table switch { RegisterTable.Coil => "coil", RegisterTable.DiscreteInput => "discrete", RegisterTable.Holding => "holding", _ => "input" };
        var node = new JsonObject { ["address"] = string.Create(CultureInfo.InvariantCulture, $"{table} {field.Address}") };
        if (field.Bit is { } bit)
            node["bit"] = bit;
        if (field.Type != RegisterType.Bool)
            node["type"] = field.Type.ToString().ToLowerInvariant();
        if (field.Type == RegisterType.Ascii)
            node["registers"] = field.Length;
        if (field.Order != WordOrder.Abcd)
            node["order"] = field.Order.ToString().ToLowerInvariant();
        if (field.Scale != 1)
            node["scale"] = field.Scale;
        if (field.Texts is { } texts)
            node["texts"] = new JsonObject(texts.Select(text => KeyValuePair.Create<string, JsonNode?>(text.Key.ToString(CultureInfo.InvariantCulture), text.Value)));
        return node;
    }

    private static string Milliseconds(TimeSpan value) => With(value.TotalMilliseconds, "ms");

    private static string With(double value, string unit) => string.Create(CultureInfo.InvariantCulture, $"{value} {unit}");
}
