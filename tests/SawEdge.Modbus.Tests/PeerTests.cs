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

        var bits = new bool[2000];
        await reader.ReadBitsAsync(1, ModbusTable.Coils, 0, bits, default);
        Assert.Equal(Enumerable.Range(0, 2000).Select(i => i % 3 == 0), bits);
        await reader.ReadBitsAsync(1, ModbusTable.DiscreteInputs, 13, bits.AsMemory(0, 1987), default);
        Assert.Equal(Enumerable.Range(13, 1987).Select(i => i * i % 7 < 3), bits.Take(1987));

        var words = new ushort[125];
        await reader.ReadRegistersAsync(1, ModbusTable.InputRegisters, 75, words, default);
        Assert.Equal(Enumerable.Range(75, 125).Select(i => (ushort)((i * 7) + 3)), words);
        await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 100, words, default);
        Assert.Equal([54321, 0xCFC7], words[..2]);
        Assert.Equal([0xDEAD, 0xBEEF, 0xBEEF, 0xDEAD, 0xADDE, 0xEFBE, 0xEFBE, 0xADDE], words[10..18]);
        Assert.Equal([0x42F6, 0xE979, 0xE979, 0x42F6, 0xF642, 0x79E9, 0x79E9, 0xF642], words[30..38]);

        // The last registers that there are, and the first that there is not.
        await reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 390, words.AsMemory(0, 10), default);
        var refused = await Assert.ThrowsAsync<ModbusDeviceException>(() => reader.ReadRegistersAsync(1, ModbusTable.HoldingRegisters, 390, words.AsMemory(0, 11), default).AsTask());
        Assert.Equal(ModbusExceptionCode.IllegalDataAddress, refused.Code);
        Assert.Contains("unit 1, holding registers 390 to 400: the device answers exception 02", refused.Message, StringComparison.Ordinal);
        Assert.Equal(1, reader.Connections);
    }

    private static ModbusTcpReader Reader(int port, TimeSpan timeout) =>
        new(new ModbusTcpOptions { Host = "127.0.0.1", Port = port, ResponseTimeout = timeout }, TimeProvider.System);
}
