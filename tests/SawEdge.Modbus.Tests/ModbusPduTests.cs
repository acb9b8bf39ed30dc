namespace SawEdge.Modbus.Tests;

/// <summary>
/// The worked examples of the Modbus Application Protocol Specification V1.1b3 (the read functions of clauses 6.1 to 6.4
/// and the exception of clause 7), byte for byte.
/// </summary>
public sealed class ModbusPduTests
{
    [Theory]
    [InlineData(ModbusTable.Coils, 0x0013, 0x13, "01 00 13 00 13")] // 6.1: outputs 20 to 38
    [InlineData(ModbusTable.DiscreteInputs, 0x00C4, 0x16, "02 00 C4 00 16")] // 6.2: inputs 197 to 218
    [InlineData(ModbusTable.HoldingRegisters, 0x006B, 3, "03 00 6B 00 03")] // 6.3: registers 108 to 110
    [InlineData(ModbusTable.InputRegisters, 0x0008, 1, "04 00 08 00 01")] // 6.4: input register 9
    [InlineData(ModbusTable.Coils, 0x04A1, 1, "01 04 A1 00 01")] // 7: output 1185
    public void Encode_WorkedExamples_GiveThePublishedBytes(ModbusTable table, int address, int quantity, string published)
    {
        var bytes = new byte[ModbusPdu.RequestLength];
        ModbusPdu.Encode(new ReadRequest(0x11, table, (ushort)address, quantity), bytes);
        Assert.Equal(Hex.Bytes(published), bytes);
    }

    [Fact]
    public void CopyBits_WorkedExampleOfCoils_FirstIsTheLowestBit()
    {
        // 6.1: 27-20 = CD (27 is the most significant), 35-28 = 6B, 38-36 = 05.
        var bits = Bits(new ReadRequest(0x11, ModbusTable.Coils, 0x13, 0x13), "01 03 CD 6B 05");
        Assert.Equal("10110011" + "11010110" + "101", Line(bits));
    }

    [Fact]
    public void CopyBits_WorkedExampleOfDiscreteInputs_FirstIsTheLowestBit()
    {
        // 6.2: 204-197 = AC, 212-205 = DB, 218-213 = 35.
        var bits = Bits(new ReadRequest(0x11, ModbusTable.DiscreteInputs, 0xC4, 0x16), "02 03 AC DB 35");
        Assert.Equal("00110101" + "11011011" + "101011", Line(bits));
    }

    [Theory]
    [InlineData(ModbusTable.HoldingRegisters, 0x6B, "03 06 02 2B 00 00 00 64", new ushort[] { 555, 0, 100 })] // 6.3
    [InlineData(ModbusTable.InputRegisters, 0x08, "04 02 00 0A", new ushort[] { 10 })] // 6.4
    public void CopyRegisters_WorkedExamples_GiveThePublishedValues(ModbusTable table, int address, string published, ushort[] values)
    {
        var request = new ReadRequest(0x11, table, (ushort)address, values.Length);
        Assert.Null(ModbusPdu.FindFault(request, Hex.Bytes(published), out var exception));
        Assert.Equal(ModbusExceptionCode.None, exception);
        var into = new ushort[values.Length];
        ModbusPdu.CopyRegisters(Hex.Bytes(published), into);
        Assert.Equal(values, into);
    }

    [Fact]
    public void FindFault_WorkedExampleOfAnException_GivesItsCode()
    {
        // 7: output 1185 does not exist, the device answers 81 02.
        var request = new ReadRequest(0x11, ModbusTable.Coils, 0x04A1, 1);
        Assert.Null(ModbusPdu.FindFault(request, Hex.Bytes("81 02"), out var exception));
        Assert.Equal(ModbusExceptionCode.IllegalDataAddress, exception);
    }

    [Theory]
    [InlineData("", "ends after 0")]
    [InlineData("03", "ends after 1")]
    [InlineData("03 04 00 01", "has 4 bytes")]
    [InlineData("03 04 00 01 00 02 00", "has 7 bytes")]
    [InlineData("03 02 00 01", "byte count is 2")]
    [InlineData("03 06 00 01 00 02 00 03", "byte count is 6")]
    [InlineData("04 04 00 01 00 02", "function 04")]
    [InlineData("84 02", "function 84")]
    [InlineData("83 02 00", "this one has 3")]
    [InlineData("83 00", "code 00")]
    public void FindFault_BrokenAnswer_SaysWhatIsWrong(string answer, string expected)
    {
        var request = new ReadRequest(1, ModbusTable.HoldingRegisters, 0, 2);
        var fault = ModbusPdu.FindFault(request, Hex.Bytes(answer), out var exception);
        Assert.Contains(expected, fault, StringComparison.Ordinal);
        Assert.Equal(ModbusExceptionCode.None, exception);
    }

    [Theory]
    [InlineData(0x01, "illegal function")]
    [InlineData(0x02, "illegal data address")]
    [InlineData(0x03, "illegal data value")]
    [InlineData(0x04, "server device failure")]
    [InlineData(0x05, "acknowledge")]
    [InlineData(0x06, "server device busy")]
    [InlineData(0x08, "memory parity error")]
    [InlineData(0x0A, "gateway path unavailable")]
    [InlineData(0x0B, "gateway target device failed to respond")]
    [InlineData(0x55, "the standard does not define")]
    public void Explain_EveryCodeOfClause7_UsesTheStandardsName(byte code, string name) =>
        Assert.Contains(name, ModbusExceptionCodes.Explain((ModbusExceptionCode)code), StringComparison.Ordinal);

    [Fact]
    public void AnswerLength_OfTheLargestRequests_StaysWithinTheProtocolDataUnit()
    {
        // Clauses 6.1 and 6.3: 2000 bits are 250 bytes, 125 registers are 250 bytes; with function and count 252 of 253.
        Assert.Equal(252, ModbusPdu.AnswerLength(new ReadRequest(1, ModbusTable.Coils, 0, 2000)));
        Assert.Equal(252, ModbusPdu.AnswerLength(new ReadRequest(1, ModbusTable.InputRegisters, 0, 125)));
        Assert.Equal(253, ModbusPdu.MaximumLength);
    }

    private static bool[] Bits(ReadRequest request, string answer)
    {
        Assert.Null(ModbusPdu.FindFault(request, Hex.Bytes(answer), out _));
        var into = new bool[request.Quantity];
        ModbusPdu.CopyBits(Hex.Bytes(answer), into);
        return into;
    }

    private static string Line(bool[] bits) => string.Concat(bits.Select(bit => bit ? '1' : '0'));
}
