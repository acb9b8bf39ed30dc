using System.Reflection;
using NetArchTest.Rules;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;
using SawEdge.Simulator.Saws;

namespace SawEdge.Gateway.Tests.Architecture;

/// <summary>The walls between the projects and between the rooms of the gateway, as DEVELOPERS.md states them.</summary>
public sealed class WallTests
{
    private static readonly Assembly Core = typeof(SignalFrame).Assembly;
    private static readonly Assembly Modbus = typeof(IModbusReader).Assembly;
    private static readonly Assembly Simulator = typeof(VirtualSaw).Assembly;
    private static readonly Assembly Gateway = typeof(GatewayOptions).Assembly;

    // A room, and the rooms that it may use: those before it in the flow of the data.
    private static readonly Dictionary<string, string[]> Rooms = new(StringComparer.Ordinal)
    {
        ["Formats"] = [],
        ["Configuration"] = [],
        ["Telemetry"] = ["Configuration"],
        ["Brokers"] = ["Configuration", "Formats"],
        ["Acquisition"] = ["Brokers", "Configuration", "Formats"],
        ["History"] = ["Configuration", "Formats"],
        ["Accounts"] = ["History", "Configuration", "Formats"],
        ["Export"] = ["Accounts", "History", "Configuration", "Formats"],
        ["Processing"] = ["Acquisition", "History", "Telemetry", "Configuration", "Formats"],
        ["Forwarding"] = ["Export", "Accounts", "History", "Telemetry", "Configuration", "Formats"],
        ["Notification"] = ["Brokers", "History", "Telemetry", "Configuration", "Formats"],
        ["Api"] = ["Export", "Accounts", "History", "Telemetry", "Configuration", "Formats"],
        ["Hosting"] = ["Acquisition", "Processing", "Accounts", "History", "Forwarding", "Notification", "Export", "Api", "Telemetry", "Configuration", "Formats"],
        ["Commands"] = ["Acquisition", "Processing", "Accounts", "History", "Forwarding", "Notification", "Export", "Api", "Hosting", "Telemetry", "Configuration", "Formats"],
    };

    public static TheoryData<string> RoomNames => [.. Rooms.Keys];

    [Fact]
    public void Projects_KnowOnlyWhatTheyMay()
    {
        Assert.Empty(OwnReferences(Core));
        Assert.Empty(OwnReferences(Modbus));
        Assert.Equal(["SawEdge.Core"], OwnReferences(Simulator));
        Assert.Equal(["SawEdge.Core", "SawEdge.Modbus", "SawEdge.Simulator"], OwnReferences(Gateway));
    }

    [Fact]
    public void EveryRoomOfTheGateway_HasItsRuleHere()
    {
        var rooms = Gateway.GetTypes().Select(type => type.Namespace).OfType<string>().Where(name => name.StartsWith("SawEdge.Gateway.", StringComparison.Ordinal)).Select(name => name.Split('.')[2]).Distinct();
        Assert.Equal(Rooms.Keys.Order(StringComparer.Ordinal), rooms.Order(StringComparer.Ordinal));
    }

    [Theory]
    [MemberData(nameof(RoomNames))]
    public void Room_UsesOnlyRoomsBeforeIt(string room)
    {
        string[] forbidden = [.. Rooms.Keys.Where(other => other != room && !Rooms[room].Contains(other)).Select(other => $"SawEdge.Gateway.{other}")];
        var types = Types.InAssembly(Gateway).That().ResideInNamespaceMatching($@"^SawEdge\.Gateway\.{room}(\.|$)");
        Assert.NotEmpty(types.GetTypes());
        if (forbidden.Length > 0)
            Holds(types.ShouldNot().HaveDependencyOnAny(forbidden));
    }

    [Fact]
    public void OnlyTheDemo_KnowsTheSimulator() =>
        Holds(Types.InAssembly(Gateway).That().DoNotResideInNamespace("SawEdge.Gateway.Commands.Demo").And().DoNotHaveName("Program").ShouldNot().HaveDependencyOn("SawEdge.Simulator"));

    [Fact]
    public void OnlyTheModbusSource_KnowsTheModbusClient() =>
        Holds(Types.InAssembly(Gateway).That().DoNotResideInNamespace("SawEdge.Gateway.Acquisition.Modbus").ShouldNot().HaveDependencyOn("SawEdge.Modbus"));

    // Whoever wants to send a controller something that the client cannot say would have to open a socket.
    [Fact]
    public void NobodyButTheModbusClient_OpensSockets()
    {
        string[] needed = ["System.Net.Sockets.TcpClient", "System.Net.Sockets.NetworkStream", "System.Net.Sockets.UdpClient", "System.Net.Sockets.Socket"];
        Holds(Types.InAssembly(Gateway).That().DoNotResideInNamespace("SawEdge.Gateway.Commands.Demo").ShouldNot().HaveDependencyOnAny(needed));
        Holds(Types.InAssembly(Core).ShouldNot().HaveDependencyOnAny("System.Net", "System.IO.File", "System.IO.FileInfo", "System.IO.FileStream", "System.IO.Directory", "System.Threading.Tasks", "System.TimeProvider", "System.Random"));

        // The one who does is found by the same question.
        Assert.NotEmpty(Types.InAssembly(Modbus).That().HaveDependencyOnAny(needed).GetTypes());
    }

    [Fact]
    public void NothingThatReadsRegisters_HasANameThatSpeaksOfWritingThem()
    {
        const BindingFlags Everything = BindingFlags.Public | BindingFlags.NonPublic | BindingFlags.Static | BindingFlags.Instance | BindingFlags.DeclaredOnly;
        string[] words = ["Write", "Force", "Preset"];
        var names = Gateway.GetTypes()
            .Where(type => type.Namespace == "SawEdge.Gateway.Acquisition.Modbus")
            .SelectMany(type => type.GetMembers(Everything).Select(member => $"{type.Name}.{member.Name}").Append(type.Name))
            .ToList();
        Assert.Contains(names, name => name.Contains("Read", StringComparison.Ordinal));
        Assert.DoesNotContain(names, name => words.Any(word => name.Contains(word, StringComparison.OrdinalIgnoreCase)));
        Assert.Equal(["Coil", "DiscreteInput", "Holding", "Input"], Enum.GetNames<RegisterTable>());
    }

    // A demand that nothing falls under would hold whatever the code does.
    private static void Holds(ConditionList demand)
    {
        var result = demand.GetResult();
        Assert.True(result.IsSuccessful, string.Join(", ", (result.FailingTypes ?? []).Select(type => type.FullName)));
    }

    private static IEnumerable<string> OwnReferences(Assembly assembly) =>
        assembly.GetReferencedAssemblies().Select(reference => reference.Name!).Where(name => name.StartsWith("SawEdge.", StringComparison.Ordinal) || name == "sawedge").Order(StringComparer.Ordinal);
}
