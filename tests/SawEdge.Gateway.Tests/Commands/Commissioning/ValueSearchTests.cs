using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Commands.Commissioning;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Configuration;

namespace SawEdge.Gateway.Tests.Commands.Commissioning;

public sealed class ValueSearchTests
{
    [Fact]
    public void Find_SameValueInManyForms_TheUsualOnesComeFirst()
    {
        // 12.7 as a float, in tenths, in thousandths, byte-swapped in tenths; 0x012A7F would be chance.
        var block = Block(0x414B, 0x3333, 9, 127, 9, 12700, 9, 0x7F00, 9, 0x3333, 0x414B);
        var found = ValueSearch.Find(block, SoughtValue.Parse("12.7 A", null));
        Assert.Equal(
            [
                "holding 50 float32", "holding 59 float32 cdab", "holding 53 uint16 x 0.1", "holding 55 uint16 x 0.001",
            ],
            found.Take(4).Select(candidate => $"{candidate.Address} {candidate.Way}"));
        Assert.Contains(found, candidate => candidate.Way == "uint16 badc x 0.1" && candidate.Address.Address == 57);
        Assert.Equal(found.OrderBy(candidate => candidate.Doubt).Select(candidate => candidate.Doubt), found.Select(candidate => candidate.Doubt));
    }

    [Theory]
    [InlineData("12.7", 0.05, 127)]
    [InlineData("12.70", 0.005, 127)]
    [InlineData("13", 0.5, 127)]
    public void Find_DigitsOfThePanel_SayHowExactItMustBe(string panel, double tolerance, ushort register)
    {
        var sought = SoughtValue.Parse(panel, null);
        Assert.Equal(tolerance, sought.Tolerance, 9);
        Assert.Contains(ValueSearch.Find(Block(register), sought), candidate => candidate.Way == "uint16 x 0.1");
    }

    [Theory]
    [InlineData(126, false)]
    [InlineData(127, true)]
    [InlineData(128, false)]
    public void Find_NeighboursOfTheValue_AreNotTakenForIt(ushort register, bool found) =>
        Assert.Equal(found, ValueSearch.Find(Block(register), SoughtValue.Parse("12.7", null)).Any(candidate => candidate.Way == "uint16 x 0.1"));

    [Fact]
    public void Find_StatedTolerance_TakesWhatMovesMeanwhile()
    {
        Assert.Contains(ValueSearch.Find(Block(131), SoughtValue.Parse("12.7", 0.5)), candidate => candidate.Way == "uint16 x 0.1");
        Assert.Empty(ValueSearch.Find(Block(150), SoughtValue.Parse("12.7", 0.5)));
    }

    [Fact]
    public void Find_BinaryCodedDecimals_AreFound()
    {
        // 1234 and 12345678 in digits of four bits: common practice, no source.
        Assert.Contains(ValueSearch.Find(Block(0x1234), SoughtValue.Parse("123.4", null)), candidate => candidate.Way == "bcd16 x 0.1");
        Assert.Contains(ValueSearch.Find(Block(0x1234, 0x5678), SoughtValue.Parse("12345678", null)), candidate => candidate.Way == "bcd32");
        Assert.Contains(ValueSearch.Find(Block(0x5678, 0x1234), SoughtValue.Parse("12345678", null)), candidate => candidate.Way == "bcd32 cdab");
    }

    [Fact]
    public void Find_NegativeValue_IsSigned() =>
        Assert.Equal("int16 x 0.1", ValueSearch.Find(Block(unchecked((ushort)-125)), SoughtValue.Parse("-12.5", null))[0].Way);

    [Fact]
    public void Find_ValueAcrossAHole_IsNotPutTogether()
    {
        var block = Block(0x414B, 0x3333);
        Assert.NotEmpty(ValueSearch.Find(block, SoughtValue.Parse("12.7", null)));
        block.Mark(1, 1, ScannedState.NotThere);
        Assert.Empty(ValueSearch.Find(block, SoughtValue.Parse("12.7", null)));
    }

    [Theory]
    [InlineData("12.7 A", 12.7, "A")]
    [InlineData("12.7A", 12.7, "A")]
    [InlineData("-0.5 KW", -0.5, "kW")]
    [InlineData("80 m/min", 80, "m/min")]
    [InlineData("48.5 Hz", 48.5, "Hz")]
    [InlineData("4.5 bar", 4.5, "")]
    [InlineData("231", 231, "")]
    public void Parse_NumberAndUnit_AreKeptApart(string text, double number, string unit)
    {
        var sought = SoughtValue.Parse(text, null);
        Assert.Equal((number, unit), (sought.Number, sought.Unit));
    }

    [Fact]
    public void Parse_AnythingElse_IsAText() => Assert.True(double.IsNaN(SoughtValue.Parse("OB-1180", null).Number));

    [Fact]
    public void Find_DigitsThatMayBeAText_AreLookedForAsOneToo()
    {
        var found = ValueSearch.Find(Block(9, 0x3437, 0x3131, 0), SoughtValue.Parse("4711", null));
        Assert.Equal("""{ "address": "holding 51", "type": "ascii", "registers": 3 }""", Assert.Single(found).Configuration(""));
    }

    [Fact]
    public void Configuration_OfEveryForm_IsAcceptedByTheConfiguration()
    {
        // Every form that can be proposed, for a length: what is to be pasted must not be refused.
        var random = new Random(3);
        var forms = new Dictionary<string, Candidate>();
        ushort[] words = [127, 12700, 0x7F00, 0x0127, 0, 0x0001, 0x2700, 0x414B, 0x3333, 0x4B41, 0x3333, 0x414B, .. Enumerable.Range(0, 3000).Select(_ => (ushort)random.Next(65536))];
        foreach (var panel in new[] { "12.7 mm", "127 mm", "1270 mm", "-12.7 mm", "0.127 mm", "12000 mm", "-1200000 mm", "1200000000 mm" })
        {
            foreach (var candidate in ValueSearch.Find(Block(words), SoughtValue.Parse(panel, panel.Length > 10 ? 5e7 : 100)))
                forms.TryAdd($"{candidate.Decoding} {candidate.Scale}", candidate);
        }

        Assert.InRange(forms.Count, 80, 300);
        foreach (var (form, candidate) in forms)
        {
            foreach (var unit in new[] { "mm", "" })
            {
                var loaded = Sample.Load(Sample.With("saws[0].signals.head_position", candidate.Configuration(unit)));
                Assert.True(loaded.Options is not null, $"{form}: {candidate.Configuration(unit)}: {string.Join('\n', loaded.Errors)}");
                var mapping = ((ModbusSourceOptions)loaded.Options!.Saws[0].Source).Signals.First(signal => signal.Signal == Core.Signals.Signal.HeadPosition);
                var frame = default(Core.Signals.SignalFrame);
                new SignalDecoder(mapping).Decode(Block(words).Words(candidate.Address.Address - 50, candidate.Registers), ref frame);
                Assert.Equal(candidate.Value, frame.Number(Core.Signals.Signal.HeadPosition), Math.Abs(candidate.Value) * 1e-9);
            }
        }
    }

    [Theory]
    [InlineData(0x4F42, 0x2D31, "abcd")]
    [InlineData(0x424F, 0x312D, "badc")]
    public void Configuration_OfAText_IsAcceptedByTheConfiguration(ushort first, ushort second, string order)
    {
        var block = Block(first, second, 0, 0);
        var candidate = Assert.Single(ValueSearch.Find(block, SoughtValue.Parse("OB-1", null)));
        Assert.Equal(order, candidate.Decoding.OrderName);
        var options = Sample.Load(Sample.With("saws[0].signals.job", candidate.Configuration(""))).Options();
        var frame = default(Core.Signals.SignalFrame);
        new SignalDecoder(((ModbusSourceOptions)options.Saws[0].Source).Signals.First(signal => signal.Signal == Core.Signals.Signal.Job)).Decode(block.Words(0, candidate.Registers), ref frame);
        Assert.Equal("OB-1", frame.Text(Core.Signals.Signal.Job));
    }

    private static ScannedBlock Block(params ushort[] words)
    {
        var block = new ScannedBlock(RegisterTable.Holding, 50, words.Length);
        block.Keep(0, words);
        return block;
    }
}
