using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;

namespace SawEdge.Modbus.Tests;

/// <summary>Two servers that are not ours agree with the RTU client, on a serial line and over TCP.</summary>
public sealed class RtuPeerTests
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus, ModbusPeers.Socat)]
    public async Task Pymodbus_OnASerialLine_AgreesOnAllFourTables()
    {
        using var folder = new TempFolder();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var server = ModbusPeers.StartPymodbus(cable.Far);
        await AnswersAsync(cable.Near);
        await using var reader = Serial(cable.Near, Patience);
        await TypedValues.AgreeAsync(reader);
        await UnitsTakeTurnsAsync(reader);
        Assert.Equal(1, reader.Connections);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task Libmodbus_OnASerialLine_AgreesOnAllFourTables()
    {
        using var folder = new TempFolder();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var server = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder);
        await using var reader = Serial(cable.Near, Patience);
        await TypedValues.AgreeAsync(reader);
        Assert.Equal(1, reader.Connections);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task Libmodbus_ThroughThePortsOwnStream_AgreesOnAllFourTables()
    {
        using var folder = new TempFolder();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var server = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder);
        var options = new ModbusSerialOptions { Line = cable.Near, Parity = SerialParity.None, ResponseTimeout = Patience };
        await using var reader = new ModbusRtuReader(new SerialTransport(options, isFast: false), TimeProvider.System);
        await TypedValues.AgreeAsync(reader);
        Assert.Equal(1, reader.Connections);
    }

    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus)]
    public async Task Pymodbus_RtuOverTcp_AgreesOnAllFourTables()
    {
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartPymodbusAsync(port, isRtu: true);
        await using var reader = OverTcp(port, Patience);
        await TypedValues.AgreeAsync(reader);
        await UnitsTakeTurnsAsync(reader);
        Assert.Equal(1, reader.Connections);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task Libmodbus_BehindASerialServer_AgreesOnAllFourTables()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var server = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder);
        await using var serialServer = await SerialCable.ServeAsync(port, cable.Near);
        await using var reader = OverTcp(port, Patience);
        await TypedValues.AgreeAsync(reader);
        Assert.Equal(1, reader.Connections);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task Libmodbus_KilledAndStartedAgain_IsReadAgainOverTheOpenLine()
    {
        using var folder = new TempFolder();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var reader = Serial(cable.Near, TimeSpan.FromMilliseconds(200));
        var into = new ushort[1];
        await using (var first = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder))
            await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);

        var silent = await Assert.ThrowsAsync<ModbusTimeoutException>(() => reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default).AsTask());
        Assert.Contains("unit 1, holding registers 100: no answer within 0.2 s. Check the unit identifier", silent.Message, StringComparison.Ordinal);
        await using var second = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder);
        into[0] = 0;
        await Until.TrueAsync(() => ReadsAsync(reader, into), "the server is read again");
        Assert.Equal(54321, into[0]);
        Assert.Equal(1, reader.Connections);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task SerialServer_KilledAndStartedAgain_IsReadAgainByTheSameReader()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var server = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder);
        await using var reader = OverTcp(port, Patience);
        var into = new ushort[1];
        await using (var first = await SerialCable.ServeAsync(port, cable.Near))
            await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);

        var lost = await Assert.ThrowsAsync<ModbusConnectionException>(() => reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default).AsTask());
        Assert.Contains("RTU over TCP is switched on", lost.Message, StringComparison.Ordinal);
        await using var second = await SerialCable.ServeAsync(port, cable.Near);
        await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);
        Assert.Equal(54321, into[0]);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus, ModbusPeers.Socat)]
    public async Task Cable_PulledAndPluggedInAgain_IsToldAndReadAgain()
    {
        using var folder = new TempFolder();
        var into = new ushort[1];
        await using var cable = await SerialCable.LayAsync(folder);
        var line = cable.Near;
        await using var reader = Serial(line, Patience);
        await using (var server = await ModbusPeers.StartLibmodbusAsync(cable.Far, folder))
        {
            await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);
            await cable.PullAsync();
        }

        var gone = await Assert.ThrowsAsync<ModbusConnectionException>(() => reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default).AsTask());
        Assert.StartsWith($"{line}, unit 1, holding registers 100: there is no such serial line. Check that its adapter is plugged in. This machine has ", gone.Message, StringComparison.Ordinal);
        Assert.False(reader.IsConnected);

        await using var another = await SerialCable.LayAsync(folder);
        await using var again = await ModbusPeers.StartLibmodbusAsync(another.Far, folder);
        await reader.ConnectAsync(default);
        await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);
        Assert.Equal(54321, into[0]);
        Assert.Equal(2, reader.Connections);
    }

    [PeerFact(ModbusPeers.Socat)]
    public async Task Line_HeldByAnother_IsNotOpenedASecondTime()
    {
        using var folder = new TempFolder();
        await using var cable = await SerialCable.LayAsync(folder);
        await using var first = Serial(cable.Near, Patience);
        await first.ConnectAsync(default);
        await using var second = Serial(cable.Near, Patience);
        var held = await Assert.ThrowsAsync<ModbusConnectionException>(() => second.ConnectAsync(default).AsTask());
        Assert.Equal($"{cable.Near}: the serial line may not be opened. Check that no other program holds it, and that the service's user is in the group that owns it, mostly dialout.", held.Message);

        await first.DisposeAsync();
        await second.ConnectAsync(default);
        Assert.True(second.IsConnected);
    }

    private static async Task UnitsTakeTurnsAsync(ModbusRtuReader reader)
    {
        var reads = Enumerable.Range(0, 60).Select(async i =>
        {
            var unit = (byte)(i % 2 == 0 ? 1 : 3);
            var into = new ushort[5];
            await reader.ReadRegistersAsync(unit, ModbusTable.InputRegisters, (ushort)i, into, default);
            Assert.Equal(Enumerable.Range(i, 5).Select(at => (ushort)((at * 7) + 3 + (unit == 3 ? 1000 : 0))), into);
        }).ToList();
        await Task.WhenAll(reads);
    }

    /// <summary>Waits until unit 1 on a line answers, by a reader of its own.</summary>
    private static async Task AnswersAsync(string line)
    {
        await using var reader = Serial(line, TimeSpan.FromMilliseconds(200));
        await Until.TrueAsync(() => ReadsAsync(reader, new ushort[1]), "the server answers");
    }

    private static async Task<bool> ReadsAsync(ModbusRtuReader reader, ushort[] into)
    {
        try
        {
            await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);
            return true;
        }
        catch (Exception e) when (e is ModbusTimeoutException or ModbusProtocolException)
        {
            return false;
        }
    }

    private static ModbusRtuReader Serial(string line, TimeSpan timeout) =>
        new(new ModbusSerialOptions { Line = line, Parity = SerialParity.None, ResponseTimeout = timeout }, TimeProvider.System);

    private static ModbusRtuReader OverTcp(int port, TimeSpan timeout) =>
        new(new ModbusTcpOptions { Host = "127.0.0.1", Port = port, ResponseTimeout = timeout }, TimeProvider.System);
}
