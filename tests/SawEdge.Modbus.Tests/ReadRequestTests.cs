namespace SawEdge.Modbus.Tests;

/// <summary>Limits: Modbus Application Protocol V1.1b3, clauses 6.1 to 6.4 (1..2000 bits, 1..125 registers) and 4.4 (addresses 0..65535).</summary>
public sealed class ReadRequestTests
{
    [Theory]
    [InlineData(ModbusTable.Coils, 2000)]
    [InlineData(ModbusTable.DiscreteInputs, 2000)]
    [InlineData(ModbusTable.HoldingRegisters, 125)]
    [InlineData(ModbusTable.InputRegisters, 125)]
    public void Constructor_QuantityAtAndPastTheLimit_TakesAndRefuses(ModbusTable table, int limit)
    {
        Assert.Equal(limit, new ReadRequest(1, table, 0, limit).Quantity);
        var refused = Assert.Throws<ArgumentOutOfRangeException>(() => new ReadRequest(1, table, 0, limit + 1));
        Assert.Contains($"1 to {limit}", refused.Message, StringComparison.Ordinal);
        Assert.Throws<ArgumentOutOfRangeException>(() => new ReadRequest(1, table, 0, 0));
    }

    [Fact]
    public void Constructor_LastEntryAtAndPastTheEndOfTheAddresses_TakesAndRefuses()
    {
        Assert.Equal(65535, new ReadRequest(1, ModbusTable.HoldingRegisters, 65535, 1).Address);
        Assert.Equal(10, new ReadRequest(1, ModbusTable.HoldingRegisters, 65526, 10).Quantity);
        var refused = Assert.Throws<ArgumentOutOfRangeException>(() => new ReadRequest(1, ModbusTable.HoldingRegisters, 65526, 11));
        Assert.Contains("65535", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void ToString_OneAndSeveral_SaysUnitTableAndRange()
    {
        Assert.Equal("unit 17, holding registers 107 to 109", new ReadRequest(17, ModbusTable.HoldingRegisters, 107, 3).ToString());
        Assert.Equal("unit 1, discrete inputs 8", new ReadRequest(1, ModbusTable.DiscreteInputs, 8, 1).ToString());
    }
}
