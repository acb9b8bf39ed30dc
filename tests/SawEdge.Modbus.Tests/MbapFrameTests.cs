namespace SawEdge.Modbus.Tests;

/// <summary>
/// Frame on TCP: Modbus Messaging on TCP/IP Implementation Guide V1.0b, clause 3.1.3. The protocol data units are the worked
/// examples of the Application Protocol V1.1b3; no worked header is published, so those were put together from the clause.
/// </summary>
public sealed class MbapFrameTests
{
    [Theory]
    [InlineData(ModbusTable.Coils, 0x13, 0x13, "00 01 00 00 00 06 11 01 00 13 00 13")]
    [InlineData(ModbusTable.DiscreteInputs, 0xC4, 0x16, "00 01 00 00 00 06 11 02 00 C4 00 16")]
    [InlineData(ModbusTable.HoldingRegisters, 0x6B, 3, "00 01 00 00 00 06 11 03 00 6B 00 03")]
    [InlineData(ModbusTable.InputRegisters, 0x08, 1, "00 01 00 00 00 06 11 04 00 08 00 01")]
    [InlineData(ModbusTable.Coils, 0x04A1, 1, "00 01 00 00 00 06 11 01 04 A1 00 01")]
    public void Encode_WorkedExamplesForUnit17Transaction1_GiveTheBytes(ModbusTable table, int address, int quantity, string expected)
    {
        var bytes = new byte[MbapFrame.RequestLength];
        MbapFrame.Encode(1, new ReadRequest(0x11, table, (ushort)address, quantity), bytes);
        Assert.Equal(Hex.Bytes(expected), bytes);
    }

    [Fact]
    public void MaximumLength_IsThatOfTheStandard() => Assert.Equal(260, MbapFrame.MaximumLength);

    [Fact]
    public void FindFault_EveryPrefixOfAValidFrame_IsNoFaultAndTellsTheLengthAfterSixBytes()
    {
        var frame = Hex.Bytes("15 01 00 00 00 09 11 03 06 02 2B 00 00 00 64");
        for (var count = 0; count <= frame.Length; count++)
        {
            Assert.Null(MbapFrame.FindFault(frame.AsSpan(0, count), out var length));
            Assert.Equal(count < 6 ? 0 : frame.Length, length);
        }

        Assert.Equal(0x11, MbapFrame.Unit(frame));
        Assert.Equal(Hex.Bytes("03 06 02 2B 00 00 00 64"), MbapFrame.Pdu(frame).ToArray());
    }

    [Theory]
    [InlineData("00 01 00 01", "protocol identifier is 1")]
    [InlineData("00 01 80 00 00 06", "protocol identifier is 32768")]
    [InlineData("00 01 00 00 00 00", "length field is 0")]
    [InlineData("00 01 00 00 00 01", "length field is 1")]
    [InlineData("00 01 00 00 00 FF", "length field is 255")]
    [InlineData("00 01 00 00 FF FF", "length field is 65535")]
    public void FindFault_BrokenHeader_SaysWhatIsWrong(string header, string expected)
    {
        Assert.Contains(expected, MbapFrame.FindFault(Hex.Bytes(header), out var length), StringComparison.Ordinal);
        Assert.Equal(0, length);
    }

    [Theory]
    [InlineData("00 01 00 00 00 02", 8)]
    [InlineData("00 01 00 00 00 FE", 260)]
    public void FindFault_ShortestAndLongestFrame_AreTaken(string header, int expected)
    {
        Assert.Null(MbapFrame.FindFault(Hex.Bytes(header), out var length));
        Assert.Equal(expected, length);
    }
}
