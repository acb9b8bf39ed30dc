using System.Globalization;
using System.Text;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>Values by their types: Sparkplug 3.0, chapter 6, Data Types.</summary>
public sealed class SparkplugValueTests
{
    [Theory]
    [InlineData(SparkplugDataType.Int8, 0xFFFFFFFBU, -5.0)] // two's complement of 32 bits
    [InlineData(SparkplugDataType.Int8, 0xFBU, -5.0)] // of 8 bits
    [InlineData(SparkplugDataType.Int8, 127U, 127.0)]
    [InlineData(SparkplugDataType.Int8, 256U, null)]
    [InlineData(SparkplugDataType.Int16, 0xFFFF8000U, -32768.0)]
    [InlineData(SparkplugDataType.Int16, 0x8000U, -32768.0)]
    [InlineData(SparkplugDataType.Int16, 0x10000U, null)]
    [InlineData(SparkplugDataType.Int32, 0xFFFFFFFFU, -1.0)]
    [InlineData(SparkplugDataType.Int32, 0x7FFFFFFFU, 2147483647.0)]
    [InlineData(SparkplugDataType.UInt8, 255U, 255.0)]
    [InlineData(SparkplugDataType.UInt8, 256U, null)]
    [InlineData(SparkplugDataType.UInt16, 65535U, 65535.0)]
    [InlineData(SparkplugDataType.UInt16, 0xFFFFFFFBU, null)]
    [InlineData(SparkplugDataType.UInt32, 0xFFFFFFFFU, 4294967295.0)]
    [InlineData(SparkplugDataType.Int64, 0xFFFFFFFFFFFFFFFBUL, -5.0)]
    [InlineData(SparkplugDataType.UInt64, 9007199254740991UL, 9007199254740991.0)]
    [InlineData(SparkplugDataType.UInt32, 4294967295UL, 4294967295.0)] // as those write it who know no unsigned numbers
    [InlineData(SparkplugDataType.Int32, 0xFFFFFFFFFFFFFFFBUL, -5.0)]
    [InlineData(SparkplugDataType.Float, 1.5f, 1.5)]
    [InlineData(SparkplugDataType.Double, -1e-3, -1e-3)]
    [InlineData(SparkplugDataType.Double, double.NaN, null)]
    [InlineData(SparkplugDataType.Double, double.PositiveInfinity, null)]
    [InlineData(SparkplugDataType.Float, float.NegativeInfinity, null)]
    [InlineData(SparkplugDataType.Boolean, true, null)] // a yes or no where a number is due
    [InlineData(SparkplugDataType.Boolean, 1U, null)] // not as its type is written
    [InlineData(SparkplugDataType.Double, 1U, null)]
    [InlineData(SparkplugDataType.Int32, 1.5, null)]
    [InlineData(SparkplugDataType.String, "12", null)]
    [InlineData(SparkplugDataType.Unknown, 1U, null)]
    [InlineData((SparkplugDataType)25, 1U, null)] // an array
    [InlineData((SparkplugDataType)4000000000, 1U, null)]
    [InlineData(SparkplugDataType.Double, null, null)] // no value, and not said that there is none
    public void Set_ANumber_IsReadByItsType(object type, object? value, double? expected)
    {
        var frame = Set(Signal.BladeDeviation, new Metric("m", value, (SparkplugDataType)type), out var good);
        Assert.Equal(expected is not null, good);
        Assert.Equal(expected ?? double.NaN, frame.Number(Signal.BladeDeviation));
        Assert.Equal(expected is null ? SignalQuality.Invalid : SignalQuality.Good, frame.QualityOf(Signal.BladeDeviation));
    }

    [Theory]
    [InlineData(SparkplugDataType.String, "J-7 ä", "J-7 ä")]
    [InlineData(SparkplugDataType.Text, "J-7\u202E\u0007", "J-7")]
    [InlineData(SparkplugDataType.Uuid, "0b5c", "0b5c")]
    [InlineData(SparkplugDataType.UInt64, 18446744073709551615UL, "18446744073709551615")] // more than a double holds
    [InlineData(SparkplugDataType.Int64, 0xFFFFFFFFFFFFFFFFUL, "-1")]
    [InlineData(SparkplugDataType.UInt16, 42U, "42")]
    public void Set_AText_IsCleanedAndNumbersKeepTheirDigits(object type, object value, string expected) =>
        Assert.Equal(expected, Set(Signal.Job, new Metric("m", value, (SparkplugDataType)type), out _).Text(Signal.Job));

    [Fact]
    public void Set_TextOfBytesThatAreNoUtf8_HoldsWhatIsText()
    {
        var bytes = Encoded.Payload(1, 0, new Metric("m", "abc", SparkplugDataType.String));
        bytes[Array.IndexOf(bytes, (byte)'b')] = 0xFF;
        Assert.Equal("ac", Set(Signal.Job, bytes, out _).Text(Signal.Job));
    }

    [Fact]
    public void Set_Flags_AreFlags()
    {
        Assert.True(Set(Signal.Cutting, new Metric("m", true, SparkplugDataType.Boolean), out _).Flag(Signal.Cutting));
        Assert.False(Set(Signal.Cutting, new Metric("m", false, SparkplugDataType.Boolean), out _).Flag(Signal.Cutting));
        Assert.True(Set(Signal.Cutting, new Metric("m", 1U, SparkplugDataType.UInt8), out _).Flag(Signal.Cutting));
        Assert.Null(Set(Signal.Cutting, new Metric("m", 2U, SparkplugDataType.UInt8), out _).Flag(Signal.Cutting));
    }

    [Fact]
    public void Set_NullIsNoValue_AndNoTrouble()
    {
        var frame = Set(Signal.BladeDeviation, new Metric("m", null) { IsNull = true }, out var good);
        Assert.True(good);
        Assert.Equal(SignalQuality.NotRead, frame.QualityOf(Signal.BladeDeviation));
    }

    [Theory]
    [InlineData(192, SignalQuality.Good)] // chapter 6, Quality Codes: 192 good, 0 bad, 500 stale
    [InlineData(0, SignalQuality.SourceFault)]
    [InlineData(500, SignalQuality.SourceFault)]
    [InlineData(null, SignalQuality.Good)]
    public void Set_StatedQuality_Counts(int? quality, SignalQuality expected) =>
        Assert.Equal(expected, Set(Signal.BladeDeviation, new Metric("m", 1.0) { Quality = quality }, out _).QualityOf(Signal.BladeDeviation));

    /// <summary>Values that Google's protobuf for Python writes for the types, negative ones among them, come out as they went in.</summary>
    [PeerFact(EdgeNode.Python, EdgeNode.Protobuf)]
    public async Task Set_ValuesOfTheOtherImplementation_AreThose()
    {
        (string Type, string Value)[] values =
        [
            ("Int8", "-128"), ("Int8", "127"), ("Int16", "-32768"), ("Int16", "-1"), ("Int32", "-2147483648"), ("Int32", "2147483647"), ("Int64", "-9007199254740991"), ("UInt8", "255"),
            ("UInt16", "65535"), ("UInt32", "4294967295"), ("UInt64", "9007199254740991"), ("Float", "-0.5"), ("Double", "12.7"), ("DateTime", "1486144502122"),
        ];
        var made = await EdgeNode.EncodeAsync([.. values.Select(value => $$"""{"timestamp":1,"seq":0,"metrics":[{"name":"m","type":"{{value.Type}}","value":{{value.Value}}}]}""")]);
        for (var i = 0; i < values.Length; i++)
            Assert.Equal(double.Parse(values[i].Value, CultureInfo.InvariantCulture), Set(Signal.BladeDeviation, made[i], out _).Number(Signal.BladeDeviation));
    }

    [Theory]
    [InlineData(SparkplugDataType.Int16, 0xFFFFFFFBU, "-5")]
    [InlineData(SparkplugDataType.UInt64, 18446744073709551615UL, "18446744073709551615")]
    [InlineData(SparkplugDataType.Float, 12.7f, "12.7")]
    [InlineData(SparkplugDataType.Double, double.NaN, "NaN")]
    [InlineData(SparkplugDataType.Boolean, true, "true")]
    [InlineData(SparkplugDataType.String, "text", "text")]
    [InlineData(SparkplugDataType.UInt8, 300U, "300")]
    [InlineData(SparkplugDataType.Double, null, "no value that can be read")]
    public void Write_AnyValue_IsAsAPersonWouldWriteIt(object type, object? value, string expected)
    {
        var bytes = Encoded.Payload(1, 0, new Metric("m", value, (SparkplugDataType)type));
        var payload = new SparkplugPayload();
        Assert.True(SparkplugDecoder.TryDecode(bytes, payload, out _));
        var text = new byte[64];
        Assert.Equal(expected, Encoding.UTF8.GetString(text, 0, SparkplugValue.Write(payload.Metrics[0], (SparkplugDataType)type, bytes, text)));
        SparkplugValue.Write(payload.Metrics[0], (SparkplugDataType)type, bytes, text.AsSpan(0, 2));
    }

    private static SignalFrame Set(Signal signal, Metric metric, out bool good) => Set(signal, Encoded.Payload(1, 0, metric), out good);

    private static SignalFrame Set(Signal signal, byte[] bytes, out bool good)
    {
        var payload = new SparkplugPayload();
        Assert.True(SparkplugDecoder.TryDecode(bytes, payload, out var trouble), trouble);
        var frame = default(SignalFrame);
        var metric = payload.Metrics[0];
        good = SparkplugValue.Set(new MappedSignal(new SparkplugMapping { Signal = signal, Metric = "m" }), in metric, metric.DataType, bytes, ref frame);
        return frame;
    }
}
