using SawEdge.Modbus.Tests.Peers;
using SawEdge.TestSupport;

namespace SawEdge.Modbus.Tests;

/// <summary>Two servers that are not ours and know nothing of each other agree with this client, word for word.</summary>
public sealed class PeerTests
{
    [PeerFact(ModbusPeers.Python, ModbusPeers.Pymodbus)]
    public async Task Pymodbus_AgreesOnAllFourTables()
    {
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartPymodbusAsync(port);
        await AgreesAsync(port);

        // pymodbus does not answer for a unit that it does not have.
        await using var reader = Reader(port, TimeSpan.FromMilliseconds(200));
        var silent = await Assert.ThrowsAsync<ModbusTimeoutException>(() => reader.ReadRegistersAsync(2, ModbusTable.HoldingRegisters, 0, new ushort[1], default).AsTask());
        Assert.Contains("unit 2, holding registers 0", silent.Message, StringComparison.Ordinal);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus)]
    public async Task Libmodbus_AgreesOnAllFourTables()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var server = await ModbusPeers.StartLibmodbusAsync(port, folder);
        await AgreesAsync(port);
    }

    [PeerFact(ModbusPeers.Compiler, ModbusPeers.Libmodbus)]
    public async Task Libmodbus_KilledAndStartedAgain_IsReadAgainByTheSameReader()
    {
        using var folder = new TempFolder();
        var port = Peer.FreePort();
        await using var reader = Reader(port, TimeSpan.FromSeconds(10));
        var into = new ushort[1];
        await using (var first = await ModbusPeers.StartLibmodbusAsync(port, folder))
        {
            await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);
            await first.KillAsync();
        }

        await Assert.ThrowsAsync<ModbusConnectionException>(() => reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default).AsTask());
        await using var second = await ModbusPeers.StartLibmodbusAsync(port, folder);
        into[0] = 0;
        await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, into, default);
        Assert.Equal(54321, into[0]);
    }

    private static async Task AgreesAsync(int port)
    {
        await using var reader = Reader(port, TimeSpan.FromSeconds(10));
        await TypedValues.AgreeAsync(reader);
        Assert.Equal(1, reader.Connections);
    }

    private static ModbusTcpReader Reader(int port, TimeSpan timeout) =>
        new(new ModbusTcpOptions { Host = "127.0.0.1", Port = port, ResponseTimeout = timeout }, TimeProvider.System);
}
