namespace SawEdge.Modbus.Tests;

/// <summary>
/// Frames in RTU mode: Modbus over Serial Line V1.02, clauses 2.2, 2.5.1 and 6.2.2. The protocol data units are the worked
/// examples of the Application Protocol V1.1b3.
/// </summary>
public sealed class RtuFrameTests
{
    // Clause 6.2.2, figure 30: 1241 is sent as 41 12; that its message is 02 07 is from memory, and computed.
    [Fact]
    public void Crc_WorkedExampleOfTheStandard_IsSentLowByteFirst()
    {
        Assert.Equal(0x1241, RtuFrame.Crc(Hex.Bytes("02 07")));
        Assert.True(RtuFrame.HasValidCrc(Hex.Bytes("02 07 41 12")));
        Assert.False(RtuFrame.HasValidCrc(Hex.Bytes("02 07 12 41")));
    }

    // The check value of CRC-16/MODBUS in catalogues of CRCs (from memory).
    [Fact]
    public void Crc_OfTheDigits_IsTheCheckValue() => Assert.Equal(0x4B37, RtuFrame.Crc("123456789"u8));

    [Fact]
    public void Crc_OfNothing_IsWhatItBeginsWith() => Assert.Equal(0xFFFF, RtuFrame.Crc([]));

    // The first is public test code (readCoilsRequestBytes); of the others the protocol data units are those of clauses 6.1
    // to 6.4 and 7 and the wraps are computed with another implementation of the CRC.
    [Theory]
    [InlineData(ModbusTable.Coils, 0x13, 0x25, "11 01 00 13 00 25 0E 84")]
    [InlineData(ModbusTable.Coils, 0x13, 0x13, "11 01 00 13 00 13 8E 92")]
    [InlineData(ModbusTable.DiscreteInputs, 0xC4, 0x16, "11 02 00 C4 00 16 BA A9")]
    [InlineData(ModbusTable.HoldingRegisters, 0x6B, 3, "11 03 00 6B 00 03 76 87")]
    [InlineData(ModbusTable.InputRegisters, 0x08, 1, "11 04 00 08 00 01 B2 98")]
    [InlineData(ModbusTable.Coils, 0x04A1, 1, "11 01 04 A1 00 01 AF 88")]
    public void Encode_WorkedExamplesForUnit17_GiveTheBytes(ModbusTable table, int address, int quantity, string expected)
    {
        var bytes = new byte[RtuFrame.RequestLength];
        RtuFrame.Encode(new ReadRequest(0x11, table, (ushort)address, quantity), bytes);
        Assert.Equal(Hex.Bytes(expected), bytes);
    }

    // Requests that this library cannot make; their CRC is right all the same (wraps computed with another implementation).
    [Theory]
    [InlineData("11 05 00 AC FF 00 4E 8B")]
    [InlineData("11 06 00 01 00 03 9A 9B")]
    [InlineData("11 07 4C 22")]
    [InlineData("11 08 00 00 A5 37 D8 1D")]
    [InlineData("11 0B 4C 27")]
    [InlineData("11 0C 0D E5")]
    [InlineData("11 0F 00 13 00 0A 02 CD 01 BF 0B")]
    [InlineData("11 10 00 01 00 02 04 00 0A 01 02 C6 F0")]
    [InlineData("11 14 0E 06 00 04 00 01 00 02 06 00 03 00 09 00 02 F9 38")]
    [InlineData("11 15 0D 06 00 04 00 07 00 03 06 AF 04 BE 10 0D DB C7")]
    [InlineData("11 16 00 04 00 F2 00 25 66 E2")]
    public void HasValidCrc_OtherWorkedExamples_Fit(string frame)
    {
        Assert.True(RtuFrame.HasValidCrc(Hex.Bytes(frame)));
        Assert.Equal(-1, RtuFrame.LengthOf(Hex.Bytes(frame)));
    }

    // The answers of clauses 6.1 to 6.4 and 7, from unit 17.
    [Theory]
    [InlineData(ModbusTable.Coils, 0x13, 0x13, "01 03 CD 6B 05", ModbusExceptionCode.None)]
    [InlineData(ModbusTable.DiscreteInputs, 0xC4, 0x16, "02 03 AC DB 35", ModbusExceptionCode.None)]
    [InlineData(ModbusTable.HoldingRegisters, 0x6B, 3, "03 06 02 2B 00 00 00 64", ModbusExceptionCode.None)]
    [InlineData(ModbusTable.InputRegisters, 0x08, 1, "04 02 00 0A", ModbusExceptionCode.None)]
    [InlineData(ModbusTable.Coils, 0x04A1, 1, "81 02", ModbusExceptionCode.IllegalDataAddress)]
    public void FindFault_WorkedAnswers_AreValidAtTheirLengthAndAtNoOther(ModbusTable table, int address, int quantity, string pdu, ModbusExceptionCode expected)
    {
        var request = new ReadRequest(0x11, table, (ushort)address, quantity);
        var frame = RtuDevice.Frame(0x11, Hex.Bytes(pdu));
        Assert.Null(RtuFrame.FindFault(request, frame, out var exception));
        Assert.Equal(expected, exception);
        Assert.Equal(Hex.Bytes(pdu), RtuFrame.Pdu(frame).ToArray());
        if (expected == ModbusExceptionCode.None)
            Assert.Equal(frame.Length, RtuFrame.AnswerLength(request));

        for (var count = 0; count < frame.Length; count++)
        {
            Assert.NotNull(RtuFrame.FindFault(request, frame.AsSpan(0, count), out _));
            var isTold = count >= (expected == ModbusExceptionCode.None ? 3 : 2);
            Assert.Equal(isTold ? frame.Length : 0, RtuFrame.LengthOf(frame.AsSpan(0, count)));
        }
    }

    [Fact]
    public void FindFault_EverySingleBitTurned_IsSeen()
    {
        var request = new ReadRequest(0x11, ModbusTable.HoldingRegisters, 0x6B, 3);
        var frame = RtuDevice.Frame(0x11, Hex.Bytes("03 06 02 2B 00 00 00 64"));
        for (var bit = 0; bit < frame.Length * 8; bit++)
        {
            frame[bit / 8] ^= (byte)(1 << (bit % 8));
            Assert.Contains("the CRC is ", RtuFrame.FindFault(request, frame, out _), StringComparison.Ordinal);
            frame[bit / 8] ^= (byte)(1 << (bit % 8));
        }
    }

    [Theory]
    [InlineData("12 03 06 02 2B 00 00 00 64", "from unit 18")]
    [InlineData("11 04 06 02 2B 00 00 00 64", "function 04")]
    [InlineData("11 03 04 02 2B 00 00", "byte count is 4")]
    [InlineData("11 03 06 02 2B 00 00 00", "has 7 bytes, due are 8")]
    [InlineData("11 83 00", "code 00")]
    [InlineData("11 84 02", "function 84")]
    public void FindFault_ValidCrcButAnotherAnswer_SaysWhatIsWrong(string withoutCrc, string expected)
    {
        var bytes = Hex.Bytes(withoutCrc);
        var fault = RtuFrame.FindFault(new ReadRequest(0x11, ModbusTable.HoldingRegisters, 0x6B, 3), RtuDevice.Frame(bytes[0], bytes[1..]), out var exception);
        Assert.Contains(expected, fault, StringComparison.Ordinal);
        Assert.Equal(ModbusExceptionCode.None, exception);
    }

    [Fact]
    public void FindFault_BrokenCrc_NamesTheBytesAsTheyAreSent() =>
        Assert.Equal("the CRC is 2A 33, due are 2A 32", RtuFrame.FindFault(new ReadRequest(1, ModbusTable.HoldingRegisters, 0, 2), Hex.Bytes("01 03 04 00 01 00 02 2A 33"), out _));

    [Theory]
    [InlineData(0)]
    [InlineData(248)]
    [InlineData(255)]
    public void Encode_UnitThatCannotAnswer_IsRefusedAndNothingIsMade(byte unit)
    {
        var bytes = new byte[RtuFrame.RequestLength];
        var refused = Assert.Throws<ArgumentOutOfRangeException>(() => RtuFrame.Encode(new ReadRequest(unit, ModbusTable.Coils, 0, 1), bytes));
        Assert.Contains("0 is the broadcast", refused.Message, StringComparison.Ordinal);
        Assert.All(bytes, b => Assert.Equal(0, b));
    }

    // Clause 2.5.1.1: 3.5 characters, fixed at 1.75 ms above 19200 bit/s; clause 2.5.1: eleven bits a character.
    [Theory]
    [InlineData(9600, SerialParity.Even, 1, 3.5 * 11 / 9.6)]
    [InlineData(9600, SerialParity.None, 2, 3.5 * 11 / 9.6)]
    [InlineData(19200, SerialParity.Odd, 1, 3.5 * 11 / 19.2)]
    [InlineData(19201, SerialParity.Even, 1, 1.75)]
    [InlineData(115200, SerialParity.None, 2, 1.75)]
    public void Silence_OfALine_IsThatOfTheStandard(int baud, SerialParity parity, int stopBits, double expectedMilliseconds)
    {
        var options = new ModbusSerialOptions { Line = "any", Baud = baud, Parity = parity };
        Assert.Equal(stopBits, options.EffectiveStopBits);
        Assert.Equal(11, options.CharacterBits);
        Assert.Equal(expectedMilliseconds, options.Silence.TotalMilliseconds, 3);
    }

    [Fact]
    public void ModbusSerialOptions_Unstated_AreTheStandardsOwn()
    {
        var options = new ModbusSerialOptions { Line = "any" };
        Assert.Equal((19200, SerialParity.Even, 1), (options.Baud, options.Parity, options.EffectiveStopBits));
        Assert.Equal(256, RtuFrame.MaximumLength);
    }
}
