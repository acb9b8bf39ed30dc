using System.Globalization;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;
using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

/// <summary>Values of every type and order, put into registers by two servers that are not ours, come out the same in frames.</summary>
public sealed class ModbusPeerTests
{
    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus)]
    public async Task Pymodbus_EveryTypeInEveryOrder_IsDecoded()
    {
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartPymodbusAsync(port);
        await AgreesAsync(port);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus)]
    public async Task Libmodbus_EveryTypeInEveryOrder_IsDecoded()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartLibmodbusAsync(port, folder);
        await AgreesAsync(port);
    }

    private static async Task AgreesAsync(int port)
    {
        await using var reader = new ModbusTcpReader(new ModbusTcpOptions { Host = "localhost", Port = port, ResponseTimeout = TimeSpan.FromSeconds(10) }, TimeProvider.System);
        var checkedValues = 0;
        foreach (var (type, address, step, expected) in new (RegisterType, int, int, double)[]
        {
            (RegisterType.UInt32, 110, 2, 3735928559),
            (RegisterType.Int32, 120, 2, -123456789),
            (RegisterType.Float32, 130, 2, 123.456f),
            (RegisterType.Float64, 140, 4, -98765.4321),
            (RegisterType.UInt64, 160, 4, 1234567890123456),
            (RegisterType.Int64, 180, 4, -1234567890123456),
        })
        {
            foreach (var (order, i) in new[] { WordOrder.Abcd, WordOrder.Cdab, WordOrder.Badc, WordOrder.Dcba }.Select((order, i) => (order, i)))
            {
                var frame = await FrameAsync(reader, Mapping(type, address + (i * step), order));
                Assert.True(expected == frame.Number(Signal.HeadPosition), string.Create(CultureInfo.InvariantCulture, $"{type} {order}: {frame.Number(Signal.HeadPosition)}"));
                checkedValues++;
            }
        }

        Assert.Equal(24, checkedValues);
        Assert.Equal(54321, (await FrameAsync(reader, Mapping(RegisterType.UInt16, 100, WordOrder.Abcd))).Number(Signal.HeadPosition));
        Assert.Equal(-12345, (await FrameAsync(reader, Mapping(RegisterType.Int16, 101, WordOrder.Abcd))).Number(Signal.HeadPosition));
        Assert.Equal(353, (await FrameAsync(reader, Mapping(RegisterType.UInt16, 50, WordOrder.Abcd) with { Table = RegisterTable.Input })).Number(Signal.HeadPosition));
        Assert.Equal("BAR-4711 / S235JR", (await FrameAsync(reader, Text(200, WordOrder.Abcd))).Text(Signal.BarId));
        Assert.Equal("BAR-4711 / S235JR", (await FrameAsync(reader, Text(220, WordOrder.Badc))).Text(Signal.BarId));

        // 42 is a multiple of 3, 43 is not; 42 squared leaves 0 after sevens, 44 squared leaves 4.
        Assert.True((await FrameAsync(reader, Bit(RegisterTable.Coil, 42))).Flag(Signal.Cutting));
        Assert.False((await FrameAsync(reader, Bit(RegisterTable.Coil, 43))).Flag(Signal.Cutting));
        Assert.True((await FrameAsync(reader, Bit(RegisterTable.DiscreteInput, 42))).Flag(Signal.Cutting));
        Assert.False((await FrameAsync(reader, Bit(RegisterTable.DiscreteInput, 44))).Flag(Signal.Cutting));

        // All of it in one saw, part of it past the last register there is: the rest still comes.
        var whole = await FrameAsync(
            reader,
            Mapping(RegisterType.Float32, 136, WordOrder.Dcba),
            Mapping(RegisterType.Int16, 101, WordOrder.Abcd) with { Signal = Signal.MotorLoad },
            Mapping(RegisterType.UInt16, 400, WordOrder.Abcd) with { Signal = Signal.FaultCode },
            Mapping(RegisterType.UInt16, 399, WordOrder.Abcd) with { Signal = Signal.PartCount },
            Bit(RegisterTable.DiscreteInput, 42),
            Text(200, WordOrder.Abcd));
        Assert.Equal((123.456f, -12345), (whole.Number(Signal.HeadPosition), whole.Number(Signal.MotorLoad)));
        Assert.Equal((SignalQuality.SourceFault, SignalQuality.Good), (whole.QualityOf(Signal.FaultCode), whole.QualityOf(Signal.PartCount)));
        Assert.Equal((true, "BAR-4711 / S235JR"), (whole.Flag(Signal.Cutting)!.Value, whole.Text(Signal.BarId)!));
        Assert.Equal(1, reader.Connections);
    }

    private static async Task<SignalFrame> FrameAsync(ModbusTcpReader reader, params RegisterMapping[] mappings)
    {
        var inbox = new SawInbox("saw-1");
        var source = new ModbusSourceOptions { Device = "hall-2", Unit = 1, Signals = mappings };
        var poll = new SawPoll(source, 8, inbox, new FrameClock(TimeProvider.System), TimeProvider.System, new Silent());
        Assert.Null(await poll.PollAsync(reader, default));
        Assert.True(inbox.Frames.TryRead(out var frame));
        return frame;
    }

    private static RegisterMapping Mapping(RegisterType type, int address, WordOrder order) =>
        new() { Signal = Signal.HeadPosition, Table = RegisterTable.Holding, Address = (ushort)address, Type = type, Order = order };

    private static RegisterMapping Text(int address, WordOrder order) =>
        new() { Signal = Signal.BarId, Table = RegisterTable.Holding, Address = (ushort)address, Type = RegisterType.Ascii, Length = 16, Order = order };

    private static RegisterMapping Bit(RegisterTable table, int address) =>
        new() { Signal = Signal.Cutting, Table = table, Address = (ushort)address, Type = RegisterType.Bool };

    private sealed class Silent : ISawPollListener
    {
        public void RequestFailed(ModbusException reason)
        {
        }

        public void SignalsRefused(IReadOnlyList<SignalDecoder> signals, ModbusDeviceException refusal)
        {
        }

        public void SignalsTaken(IReadOnlyList<SignalDecoder> signals)
        {
        }
    }
}
