namespace SawEdge.Modbus.Tests.Peers;

/// <summary>What the servers of <see cref="ModbusPeers"/> hold, read through any reader.</summary>
internal static class TypedValues
{
    /// <summary>Reads of all four tables agree, and what is not there is refused.</summary>
    public static async Task AgreeAsync(IModbusReader reader)
    {
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
    }
}
