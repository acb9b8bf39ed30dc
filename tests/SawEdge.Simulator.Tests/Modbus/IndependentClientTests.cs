using SawEdge.Simulator.Modbus;
using SawEdge.TestSupport;

namespace SawEdge.Simulator.Tests.Modbus;

/// <summary>Clients that others wrote read the virtual saws.</summary>
public sealed class IndependentClientTests
{
    [PeerFact("mbpoll")]
    public async Task Mbpoll_ReadsEveryTable()
    {
        await using var server = Start();
        Assert.Contains("-34", await PollAsync(server, 1, "4", 1, 1), StringComparison.Ordinal);
        // mbpoll takes the least significant word first unless told otherwise (-B).
        Assert.Contains("1.625", await PollAsync(server, 1, "4:float", 3, 1, "-B"), StringComparison.Ordinal);
        Assert.Contains("70000", await PollAsync(server, 1, "4:int", 5, 1, "-B"), StringComparison.Ordinal);
        const string Bits = @"\[1\]:\s+1\s+\[2\]:\s+0\s+\[3\]:\s+1";
        Assert.Matches(Bits, await PollAsync(server, 1, "1", 1, 3));
        Assert.Matches(Bits, await PollAsync(server, 1, "0", 1, 3));
        Assert.Contains("-3400", await PollAsync(server, 2, "3:int", 102, 1), StringComparison.Ordinal);
        Assert.Contains("71.3", await PollAsync(server, 2, "3:float", 105, 1), StringComparison.Ordinal);
        // 1.625 kW of 4 kW are 40.6 %.
        Assert.Contains("406", await PollAsync(server, 2, "3", 104, 1), StringComparison.Ordinal);
    }

    [PeerFact("mbpoll")]
    public async Task Mbpoll_IsToldWhatIsWrong()
    {
        await using var server = Start();
        Assert.Contains("Illegal data address", await PollAsync(server, 1, "4", 100, 1), StringComparison.Ordinal);
        Assert.Contains("Target device failed to respond", await PollAsync(server, 7, "4", 1, 1), StringComparison.Ordinal);
    }

    [PeerFact("/usr/bin/python3", "/usr/lib/python3/dist-packages/pymodbus/__init__.py")]
    public async Task Pymodbus_ReadsAndIsRefused()
    {
        await using var server = Start();
        const string Script = """
            import sys
            from pymodbus.client import ModbusTcpClient
            from pymodbus.payload import BinaryPayloadDecoder
            from pymodbus.constants import Endian
            client = ModbusTcpClient("127.0.0.1", port=int(sys.argv[1]))
            assert client.connect()
            registers = client.read_holding_registers(0, 12, slave=1).registers
            decoder = BinaryPayloadDecoder.fromRegisters(registers, byteorder=Endian.Big, wordorder=Endian.Big)
            print("head", decoder.decode_16bit_int())
            print("speed", decoder.decode_16bit_uint())
            print("load", decoder.decode_32bit_float())
            print("count", decoder.decode_32bit_uint())
            print("fault", decoder.decode_16bit_uint())
            print("mode", decoder.decode_16bit_uint())
            print("job", decoder.decode_string(8).decode().rstrip("\0"))
            print("bits", client.read_discrete_inputs(0, 3, slave=1).bits[:3])
            registers = client.read_input_registers(101, 5, slave=2).registers
            decoder = BinaryPayloadDecoder.fromRegisters(registers, byteorder=Endian.Big, wordorder=Endian.Little)
            print("packed head", decoder.decode_32bit_int())
            print("too far", client.read_holding_registers(30, 20, slave=1).exception_code)
            print("write", client.write_register(0, 1, slave=1).exception_code)
            client.close()
            """;
        var (code, output) = await Peer.RunAsync("/usr/bin/python3", ["-c", Script, server.Port.ToString(System.Globalization.CultureInfo.InvariantCulture)]);
        Assert.True(code == 0, output);
        string[] expected =
        [
            "head -34", "speed 713", "load 1.625", "count 70000", "fault 30", "mode 2", "job OB-1180", "bits [True, False, True]",
            "packed head -3400", "too far 2", "write 1",
        ];
        Assert.Equal(expected, output.Split('\n', StringSplitOptions.RemoveEmptyEntries));
    }

    private static ModbusTcpServer Start() => ModbusTcpServer.Start(new Dictionary<byte, ModbusUnit>
    {
        [1] = new(new FixedSaw(), RegisterLayout.Plain),
        [2] = new(new FixedSaw(), RegisterLayout.Packed(4)),
    });

    private static async Task<string> PollAsync(ModbusTcpServer server, int unit, string type, int reference, int count, params string[] more)
    {
        var arguments = FormattableString.Invariant($"-1 -o 10 -m tcp -p {server.Port} -a {unit} -t {type} -r {reference} -c {count} {string.Join(' ', more)} 127.0.0.1");
        var (_, output) = await Peer.RunAsync("mbpoll", arguments.Split(' ', StringSplitOptions.RemoveEmptyEntries));
        return output;
    }
}
