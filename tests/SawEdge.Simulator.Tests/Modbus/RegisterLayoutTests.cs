using SawEdge.Core.Signals;
using SawEdge.Simulator.Modbus;

namespace SawEdge.Simulator.Tests.Modbus;

public sealed class RegisterLayoutTests
{
    // 1.0 in IEEE 754 single precision is 3F 80 00 00; the four orders of its bytes.
    [Theory]
    [InlineData(WordOrder.Abcd, "3F800000")]
    [InlineData(WordOrder.Cdab, "00003F80")]
    [InlineData(WordOrder.Badc, "803F0000")]
    [InlineData(WordOrder.Dcba, "0000803F")]
    public void Load_Float32_FollowsTheWordOrder(WordOrder order, string expected) =>
        Assert.Equal(expected, Bytes(new(Signal.MotorLoad, RegisterTable.Holding, 0, RegisterType.Float32) { Order = order }, filler => filler.Set(Signal.MotorLoad, 1.0)));

    [Theory]
    [InlineData(RegisterType.UInt16, 1, 70_000, "FFFF")]
    [InlineData(RegisterType.UInt16, 1, -5, "0000")]
    [InlineData(RegisterType.Int16, 0.1, -3.4, "FFDE")]
    [InlineData(RegisterType.Int32, 0.001, -3.4, "FFFFF2B8")]
    [InlineData(RegisterType.UInt32, 1, 305_419_896, "12345678")]
    [InlineData(RegisterType.Float64, 1, 1, "3FF0000000000000")]
    public void Load_Number_IsScaledAndHeldToItsType(RegisterType type, double scale, double value, string expected) =>
        Assert.Equal(expected, Bytes(new(Signal.HeadPosition, RegisterTable.Holding, 0, type) { Scale = scale }, filler => filler.Set(Signal.HeadPosition, value)));

    [Fact]
    public void Load_PartCountInSixteenBits_RollsOver() =>
        Assert.Equal("1170", Bytes(new(Signal.PartCount, RegisterTable.Holding, 0, RegisterType.UInt16), filler => filler.Set(Signal.PartCount, 70_000)));

    [Theory]
    [InlineData("AB", "41420000")]
    [InlineData("ABCDE", "41424344")]
    [InlineData("Ä", "3F000000")]
    public void Load_Text_IsPaddedCutAndAscii(string text, string expected) =>
        Assert.Equal(expected, Bytes(new(Signal.Job, RegisterTable.Holding, 0, RegisterType.Ascii) { Length = 2 }, filler => filler.Set(Signal.Job, text)));

    [Fact]
    public void Constructor_Overlap_IsNamed()
    {
        var wrong = Assert.Throws<ArgumentException>(() => new RegisterLayout(
        [
            new(Signal.MotorLoad, RegisterTable.Holding, 4, RegisterType.Float32),
            new(Signal.HeadPosition, RegisterTable.Holding, 5, RegisterType.UInt16),
        ]));
        Assert.Contains("motor_load and head_position overlap at Holding 5", wrong.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Constructor_FieldThatCannotBe_IsRefused()
    {
        Assert.Throws<ArgumentException>(() => new RegisterLayout([new(Signal.Cutting, RegisterTable.Holding, 0, RegisterType.Bool)]));
        Assert.Throws<ArgumentException>(() => new RegisterLayout([new(Signal.MotorLoad, RegisterTable.Coil, 0, RegisterType.Float32)]));
        Assert.Throws<ArgumentException>(() => new RegisterLayout([new(Signal.Job, RegisterTable.Holding, 0, RegisterType.UInt16)]));
        Assert.Throws<ArgumentException>(() => new RegisterLayout([new(Signal.MotorLoad, RegisterTable.Holding, 65_535, RegisterType.Float32)]));
        Assert.Throws<ArgumentException>(() => new RegisterLayout([new(Signal.Cutting, RegisterTable.Holding, 0, RegisterType.Bool) { Bit = 16 }]));
    }

    [Fact]
    public void Mapping_NamesEachSignalOnce()
    {
        var mapping = RegisterLayout.Plain.Mapping.ToList();
        Assert.Equal(mapping.Count, mapping.Select(field => field.Signal).Distinct().Count());
        Assert.Contains(mapping, field => field is { Signal: Signal.Cutting, Table: RegisterTable.DiscreteInput });
    }

    private static string Bytes(RegisterField field, Action<Filler> fill)
    {
        var filler = new Filler();
        fill(filler);
        var image = new RegisterImage(new([field]));
        image.Load(filler.Frame);
        var bytes = new byte[field.Width * 2];
        image.CopyRegisters(field.Table, field.Address, field.Width, bytes);
        return Convert.ToHexString(bytes);
    }

    private sealed class Filler
    {
        private SignalFrame _frame = new(Make.Start);

        public SignalFrame Frame => _frame;

        public void Set(Signal signal, double value) => _frame.Set(signal, value);

        public void Set(Signal signal, string value) => _frame.Set(signal, value);
    }
}
