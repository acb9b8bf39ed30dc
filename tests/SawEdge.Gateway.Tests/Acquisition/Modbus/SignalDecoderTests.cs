using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Modbus;

public sealed class SignalDecoderTests
{
    private static readonly RegisterMapping Number = new() { Signal = Signal.MotorLoad, Table = RegisterTable.Holding, Address = 0, Type = RegisterType.Int16 };

    [Fact]
    public void Decode_Number_IsRawTimesScalePlusOffset()
    {
        var frame = Decode(Number with { Conversion = ValueConversion.Linear(0.1, -2) }, 255);
        Assert.Equal(23.5, frame.Number(Signal.MotorLoad), 12);
    }

    [Theory]
    [InlineData(-1, SignalQuality.OutOfRange)]
    [InlineData(0, SignalQuality.Good)]
    [InlineData(15, SignalQuality.Good)]
    [InlineData(16, SignalQuality.OutOfRange)]
    public void Decode_NumberAtTheEndsOfItsRange_IsBelievedOrNot(short raw, SignalQuality expected)
    {
        var frame = Decode(Number with { Minimum = 0, Maximum = 15 }, (ushort)raw);
        Assert.Equal(expected, frame.QualityOf(Signal.MotorLoad));
        Assert.Equal(expected == SignalQuality.Good ? raw : double.NaN, frame.Number(Signal.MotorLoad));
    }

    [Theory]
    [InlineData(0x7FC0)] // NaN
    [InlineData(0x7F80)] // infinity
    [InlineData(0xFF80)] // minus infinity
    public void Decode_NoFiniteNumber_IsInvalid(int firstWord)
    {
        var mapping = Number with { Type = RegisterType.Float32 };
        Assert.Equal(SignalQuality.Invalid, Decode(mapping, (ushort)firstWord, 0).QualityOf(Signal.MotorLoad));
        Assert.Equal(SignalQuality.Invalid, Decode(mapping with { Signal = Signal.Cutting }, (ushort)firstWord, 0).QualityOf(Signal.Cutting));
    }

    [Fact]
    public void Decode_ScaleThatOverflows_IsInvalid() =>
        Assert.Equal(SignalQuality.Invalid, Decode(Number with { Conversion = ValueConversion.Linear(double.MaxValue) }, 1000).QualityOf(Signal.MotorLoad));

    [Theory]
    [InlineData(0x0000, null, false, false)]
    [InlineData(0x0100, null, false, true)]
    [InlineData(0x0100, 8, false, true)]
    [InlineData(0x0100, 7, false, false)]
    [InlineData(0x0100, 8, true, false)]
    [InlineData(0x8000, 15, false, true)]
    public void Decode_FlagInARegister_IsItsBit(int word, int? bit, bool invert, bool expected)
    {
        var mapping = new RegisterMapping { Signal = Signal.Cutting, Table = RegisterTable.Holding, Address = 0, Type = RegisterType.Bool, Bit = bit, Invert = invert };
        Assert.Equal(expected, Decode(mapping, (ushort)word).Flag(Signal.Cutting));
        Assert.Equal(expected, Decode(mapping with { Type = RegisterType.UInt16 }, (ushort)word).Flag(Signal.Cutting));
    }

    [Theory]
    [InlineData(RegisterType.UInt16, false, true, 3)]
    [InlineData(RegisterType.UInt16, false, true, 4)]
    [InlineData(RegisterType.UInt16, false, false, 0)]
    [InlineData(RegisterType.UInt16, false, false, 5)]
    [InlineData(RegisterType.UInt16, true, true, 5)]
    [InlineData(RegisterType.UInt16, true, false, 3)]
    [InlineData(RegisterType.Bcd16, false, true, 0x0004)]
    [InlineData(RegisterType.Bcd16, false, null, 0x000C)]
    [InlineData(RegisterType.UInt32, false, true, 0, 4)]
    [InlineData(RegisterType.UInt32, false, false, 4, 0)]
    public void Decode_StateWord_IsAFlagByItsValues(RegisterType type, bool invert, bool? expected, params int[] words)
    {
        var mapping = new RegisterMapping { Signal = Signal.Cutting, Table = RegisterTable.Holding, Address = 0, Type = type, Values = [3, 4], Invert = invert };
        var frame = Decode(mapping, [.. words.Select(word => (ushort)word)]);
        Assert.Equal(expected, frame.Flag(Signal.Cutting));
        Assert.Equal(expected is null ? SignalQuality.Invalid : SignalQuality.Good, frame.QualityOf(Signal.Cutting));
    }

    [Theory]
    [InlineData(WordOrder.Abcd, 17, true)]
    [InlineData(WordOrder.Cdab, 17, false)]
    [InlineData(WordOrder.Cdab, 1, true)]
    [InlineData(WordOrder.Abcd, 1, false)]
    public void Decode_BitOfANumberInTwoRegisters_CountsFromItsLeast(WordOrder order, int bit, bool expected)
    {
        var mapping = new RegisterMapping { Signal = Signal.Cutting, Table = RegisterTable.Holding, Address = 0, Type = RegisterType.UInt32, Bit = bit, Order = order };
        Assert.Equal(expected, Decode(mapping, 0x0002, 0x0000).Flag(Signal.Cutting));
    }

    [Theory]
    [InlineData(true, false, true)]
    [InlineData(true, true, false)]
    [InlineData(false, true, true)]
    public void Decode_Coil_IsAFlag(bool bit, bool invert, bool expected)
    {
        var decoder = new SignalDecoder(new RegisterMapping { Signal = Signal.CycleActive, Table = RegisterTable.Coil, Address = 3, Type = RegisterType.Bool, Invert = invert });
        var frame = default(SignalFrame);
        decoder.Decode(bit, ref frame);
        Assert.Equal(expected, frame.Flag(Signal.CycleActive));
    }

    [Fact]
    public void Decode_CounterKeptAsFloat_IsRounded()
    {
        var words = Words(BitConverter.SingleToUInt32Bits(41.99999f));
        Assert.Equal(42, Decode(Number with { Signal = Signal.PartCount, Type = RegisterType.Float32 }, words).Number(Signal.PartCount));
    }

    [Theory]
    [InlineData("JOB 17", "JOB 17")]
    [InlineData("  JOB 17 ", "JOB 17")]
    [InlineData("JOB\u0007\u001B[31m17", "JOB[31m17")]
    [InlineData("JOB\017", "JOB")]
    [InlineData("LÄNGE", "LÄNGE")]
    public void Decode_Text_IsCleanedAndEndsAtTheFirstNul(string raw, string expected)
    {
        Assert.Equal(expected, Decode(Text(6), Characters(raw, 6)).Text(Signal.Job));
        var swapped = Characters(raw, 6).Select(word => (ushort)((word << 8) | (word >> 8))).ToArray();
        Assert.Equal(expected, Decode(Text(6) with { Order = WordOrder.Badc }, swapped).Text(Signal.Job));
    }

    [Fact]
    public void Decode_EmptyText_CountsAsNotRead() =>
        Assert.Equal(SignalQuality.NotRead, Decode(Text(4), Characters("", 4)).QualityOf(Signal.Job));

    [Fact]
    public void Decode_UnchangedText_IsTheSameInstanceAndAllocatesNothing()
    {
        var decoder = new SignalDecoder(Text(6));
        var words = Characters("JOB 17", 6);
        var frame = default(SignalFrame);
        decoder.Decode(words, ref frame);
        var first = frame.Text(Signal.Job);
        Assert.Equal(0, Allocations.Of(() =>
        {
            for (var i = 0; i < 100; i++)
                decoder.Decode(words, ref frame);
        }));
        Assert.Same(first, frame.Text(Signal.Job));

        decoder.Decode(Characters("JOB 18", 6), ref frame);
        Assert.Equal("JOB 18", frame.Text(Signal.Job));
    }

    [Fact]
    public void Decode_CodeOfAText_IsLookedUp()
    {
        var mapping = new RegisterMapping
        {
            Signal = Signal.Mode,
            Table = RegisterTable.Holding,
            Address = 0,
            Type = RegisterType.Int16,
            Texts = new Dictionary<long, string> { [-1] = "manual", [2] = "automatic" },
        };
        var decoder = new SignalDecoder(mapping);
        var frame = default(SignalFrame);
        decoder.Decode([2], ref frame);
        Assert.Equal("automatic", frame.Text(Signal.Mode));
        decoder.Decode([0xFFFF], ref frame);
        Assert.Equal("manual", frame.Text(Signal.Mode));
        for (var i = 0; i < 2; i++)
        {
            decoder.Decode([7], ref frame);
            Assert.Equal(SignalQuality.Invalid, frame.QualityOf(Signal.Mode));
        }
    }

    [Fact]
    public void Decode_OneBitForTwoTexts_IsLookedUp()
    {
        var mapping = new RegisterMapping
        {
            Signal = Signal.Mode,
            Table = RegisterTable.Holding,
            Address = 0,
            Type = RegisterType.Bool,
            Bit = 4,
            Texts = new Dictionary<long, string> { [0] = "manual", [1] = "automatic" },
        };
        Assert.Equal("automatic", Decode(mapping, 0x0010).Text(Signal.Mode));
        Assert.Equal("manual", Decode(mapping, 0xFFEF).Text(Signal.Mode));

        var coil = new SignalDecoder(mapping with { Table = RegisterTable.Coil, Bit = null });
        var frame = default(SignalFrame);
        coil.Decode(true, ref frame);
        Assert.Equal("automatic", frame.Text(Signal.Mode));
        coil.Decode(false, ref frame);
        Assert.Equal("manual", frame.Text(Signal.Mode));
    }

    [Fact]
    public void Decode_NumberForATextWithoutAList_IsTheNumberAsText() =>
        Assert.Equal("4711", Decode(Text(1) with { Type = RegisterType.UInt16 }, 4711).Text(Signal.Job));

    [Fact]
    public void Constructor_PastTheLastAddress_SaysWhich()
    {
        var refused = Assert.Throws<ArgumentException>(() => new SignalDecoder(Number with { Type = RegisterType.Float64, Address = 65533 }));
        Assert.Contains("motor_load: 4 registers from address 65533", refused.Message, StringComparison.Ordinal);
    }

    private static RegisterMapping Text(int registers) =>
        new() { Signal = Signal.Job, Table = RegisterTable.Holding, Address = 0, Type = RegisterType.Ascii, Length = registers };

    private static ushort[] Characters(string text, int registers)
    {
        var bytes = Encoding.Latin1.GetBytes(text.PadRight(registers * 2, '\0'));
        return [.. Enumerable.Range(0, registers).Select(i => (ushort)((bytes[2 * i] << 8) | bytes[(2 * i) + 1]))];
    }

    private static ushort[] Words(uint bits) => [(ushort)(bits >> 16), (ushort)bits];

    private static SignalFrame Decode(RegisterMapping mapping, params ushort[] words)
    {
        var frame = default(SignalFrame);
        new SignalDecoder(mapping).Decode(words, ref frame);
        return frame;
    }
}
