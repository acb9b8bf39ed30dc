using System.Net;
using System.Net.Sockets;
using System.Text.Json.Nodes;
using SawEdge.EndToEnd.Tests.Support;

namespace SawEdge.EndToEnd.Tests;

/// <summary>A gateway that starts before the network does and whose port somebody else has: each said once and clearly, and it runs on until they pass.</summary>
public sealed class BadStartTests
{
    private const int DeviceIsAway = 2101;
    private const int BrokerIsAway = 2201;
    private const int ServerIsAway = 5002;
    private const int CannotListen = 8001;
    private const int Listening = 8000;

    // Names that no name server knows (RFC 6761, 6.4).
    private static string Unknown(string name) => $"{name}.sawedge.invalid";

    [Fact]
    public async Task WithoutNamesAndWithoutItsPort_SaysEachOnceWithWhatToDo_AndServesOnceThePortIsFree()
    {
        var taken = new TcpListener(IPAddress.Loopback, 0);
        taken.Start();
        var port = ((IPEndPoint)taken.LocalEndpoint).Port;
        using var folder = new GatewayFolder()
            .With("http", new JsonObject { ["listen"] = $"http://127.0.0.1:{port}" })
            .With("devices", new JsonArray { new JsonObject { ["name"] = "plc", ["host"] = Unknown("plc") } })
            .With("brokers", new JsonArray { new JsonObject { ["name"] = "hall", ["host"] = Unknown("broker") } })
            .With("influx", new JsonArray { new JsonObject { ["name"] = "one", ["url"] = $"http://{Unknown("influx")}:8086", ["version"] = 1, ["database"] = "saws", ["maximumWait"] = "100 ms" } })
            .WithSaw("north", "plc", 1)
            .WithSaw(JsonNode.Parse("""{ "name": "yard", "source": "mqtt", "broker": "hall", "topic": "yard/frame", "signals": { "head_position": { "member": "head" }, "motor_load": { "member": "load" } } }""")!);
        await using var gateway = folder.Start();

        await gateway.LogsAsync(DeviceIsAway, "Device plc cannot be reached");
        await gateway.LogsAsync(BrokerIsAway, "Broker hall cannot be listened to");
        await gateway.LogsAsync(ServerIsAway, "'one' ");
        await gateway.LogsAsync(CannotListen, $"http: cannot listen on http://127.0.0.1:{port}/ (");
        Assert.All([Said(gateway, DeviceIsAway), Said(gateway, BrokerIsAway)], said => Assert.Matches("Check (the|its) spelling and the name server", said));
        Assert.Contains("Name or service not known", Said(gateway, ServerIsAway), StringComparison.Ordinal);
        Assert.EndsWith("Choose another address or port (http.listen)", Said(gateway, CannotListen), StringComparison.Ordinal);
        Assert.Contains("in use", Said(gateway, CannotListen), StringComparison.Ordinal);

        taken.Stop();
        await gateway.LogsAsync(Listening, $"http: listening on http://127.0.0.1:{port}");
        foreach (var once in new[] { DeviceIsAway, BrokerIsAway, ServerIsAway, CannotListen })
            Assert.Equal(1, gateway.Count(once));
        Assert.Equal(0, await gateway.EndAsync());
    }

    private static string Said(GatewayProcess gateway, int eventId) => gateway.Log.First(line => line.EventId == eventId).Message;
}
