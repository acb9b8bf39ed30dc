using System.Text;
using CsCheck;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

public class JsonFrameTests
{
    private readonly Listener _listener = new();

    [Fact]
    public void TryRead_NestedMembers_AreFoundAndTheRestIsSkipped()
    {
        var frame = Read(
            """
            {"meta":{"seq":[1,2,{"load":99}]},"data":{"head":{"position":250.5,"x":null},"list":[10,{"kw":1.5}],"a.b":70},
             "cutting":true,"mode":"automatic","job":"6\" pipe \u00e4","part":41,"time":"2026-03-02T06:00:00.25Z"}
            """,
            "time",
            Published.Member(Signal.HeadPosition, "data.head.position"),
            Published.Member(Signal.MotorLoad, "data.list.1.kw"),
            Published.Member(Signal.BladeSpeed, "data.a\\.b"),
            Published.Member(Signal.Cutting, "cutting"),
            Published.Member(Signal.Mode, "mode"),
            Published.Member(Signal.Job, "job"),
            Published.Member(Signal.PartCount, "part"),
            Published.Member(Signal.BarId, "bar"));

        Assert.Equal("", frame.Trouble);
        Assert.Equal(new DateTimeOffset(2026, 3, 2, 6, 0, 0, 250, TimeSpan.Zero), frame.Time);
        Assert.Equal(250.5, frame.Frame.Number(Signal.HeadPosition));
        Assert.Equal(1.5, frame.Frame.Number(Signal.MotorLoad));
        Assert.Equal(70, frame.Frame.Number(Signal.BladeSpeed));
        Assert.True(frame.Frame.Flag(Signal.Cutting));
        Assert.Equal("automatic", frame.Frame.Text(Signal.Mode));
        Assert.Equal("6\" pipe ä", frame.Frame.Text(Signal.Job));
        Assert.Equal(41, frame.Frame.Number(Signal.PartCount));
        Assert.Equal(SignalQuality.NotRead, frame.Frame.QualityOf(Signal.BarId));
        Assert.Empty(_listener.Bad);
    }

    [Fact]
    public void TryRead_ScaleOffsetAndLimits_AreApplied()
    {
        var mapping = new MqttMapping { Signal = Signal.MotorLoad, Member = "w", Conversion = ValueConversion.Linear(0.001, 0.5), Minimum = 0, Maximum = 30 };
        Assert.Equal(2.5, Read("""{"w":2000}""", null, mapping).Frame.Number(Signal.MotorLoad));
        Assert.Equal(SignalQuality.OutOfRange, Read("""{"w":32700000}""", null, mapping).Frame.QualityOf(Signal.MotorLoad));
        Assert.Equal(SignalQuality.OutOfRange, Read("""{"w":-1000}""", null, mapping).Frame.QualityOf(Signal.MotorLoad));
    }

    [Theory]
    [InlineData(Signal.MotorLoad, "\"12.5\"", SignalQuality.Invalid)]
    [InlineData(Signal.MotorLoad, "\"NaN\"", SignalQuality.Invalid)]
    [InlineData(Signal.MotorLoad, "1e999", SignalQuality.Invalid)]
    [InlineData(Signal.MotorLoad, "true", SignalQuality.Invalid)]
    [InlineData(Signal.MotorLoad, "{}", SignalQuality.Invalid)]
    [InlineData(Signal.MotorLoad, "[1]", SignalQuality.Invalid)]
    [InlineData(Signal.MotorLoad, "null", SignalQuality.NotRead)]
    [InlineData(Signal.MotorLoad, "-1.5e0", SignalQuality.Good)]
    [InlineData(Signal.Cutting, "1", SignalQuality.Good)]
    [InlineData(Signal.Cutting, "0", SignalQuality.Good)]
    [InlineData(Signal.Cutting, "2", SignalQuality.Invalid)]
    [InlineData(Signal.Cutting, "\"true\"", SignalQuality.Invalid)]
    [InlineData(Signal.PartCount, "41", SignalQuality.Good)]
    [InlineData(Signal.PartCount, "41.0", SignalQuality.Good)]
    [InlineData(Signal.PartCount, "41.5", SignalQuality.Invalid)]
    [InlineData(Signal.PartCount, "1e17", SignalQuality.Invalid)]
    [InlineData(Signal.Job, "4711", SignalQuality.Good)]
    [InlineData(Signal.Job, "\"\"", SignalQuality.NotRead)]
    [InlineData(Signal.Job, "\"\\ud800\"", SignalQuality.Invalid)]
    [InlineData(Signal.Job, "{\"a\":1}", SignalQuality.Invalid)]
    public void TryRead_ValueOfAnyType_HasItsQuality(Signal signal, string value, SignalQuality quality)
    {
        var read = Read($$"""{"v":{{value}}}""", null, Published.Member(signal, "v"));
        Assert.Equal("", read.Trouble);
        Assert.Equal(quality, read.Frame.QualityOf(signal));
        Assert.Equal(quality == SignalQuality.Invalid, _listener.Bad.Count == 1);
    }

    [Theory]
    [InlineData("")]
    [InlineData("load=5")]
    [InlineData("{\"load\":5")]
    [InlineData("{\"load\":5}}")]
    [InlineData("{\"load\":5} {\"load\":6}")]
    [InlineData("{\"load\":NaN}")]
    [InlineData("{'load':5}")]
    [InlineData("\u0000\u0001")]
    [InlineData("5")]
    [InlineData("null")]
    [InlineData("[]")]
    [InlineData("{\"Load\":5}")]
    [InlineData("{\"\\ud800\":5}")]
    public void TryRead_UselessPayload_SaysWhy(string payload) =>
        Assert.NotEqual("", Read(payload, null, Published.Member(Signal.MotorLoad, "load")).Trouble);

    [Fact]
    public void TryRead_Depth_IsLimited()
    {
        static string Nested(int depth) => string.Concat(Enumerable.Repeat("[", depth)) + string.Concat(Enumerable.Repeat("]", depth));
        Assert.Equal("", Read($$"""{"x":{{Nested(JsonFrame.MaximumDepth - 1)}},"load":5}""", null, Published.Member(Signal.MotorLoad, "load")).Trouble);
        Assert.NotEqual("", Read($$"""{"x":{{Nested(100_000)}},"load":5}""", null, Published.Member(Signal.MotorLoad, "load")).Trouble);
    }

    [Fact]
    public void TryRead_TwoSignalsOfOneMember_AreBothSet()
    {
        var frame = Read("""{"n":1}""", null, Published.Member(Signal.Cutting, "n"), Published.Member(Signal.PartCount, "n")).Frame;
        Assert.True(frame.Flag(Signal.Cutting));
        Assert.Equal(1, frame.Number(Signal.PartCount));
    }

    [Fact]
    public void TryRead_SameText_IsTheSameInstance()
    {
        var json = new JsonFrame([new PublishedSignal(Published.Member(Signal.Job, "job"))], null, _listener);
        var payload = Encoding.UTF8.GetBytes("""{"job":"J-100","x":[1,2,3]}""");
        var frame = default(SignalFrame);
        json.TryRead(payload, ref frame, out _, out _, out _);
        var first = frame.Text(Signal.Job);

        Assert.Equal(0, Allocations.Of(() =>
        {
            for (var i = 0; i < 1000; i++)
                json.TryRead(payload, ref frame, out _, out _, out _);
        }));
        Assert.Same(first, frame.Text(Signal.Job));
    }

    [Fact]
    public void TryRead_ArbitraryBytes_NeitherThrowsNorHangs()
    {
        var json = new JsonFrame([.. Published.Json().Signals.Select(mapping => new PublishedSignal(mapping))], "time", _listener);
        var piece = Gen.OneOf(
            Gen.Byte.Array[0, 8],
            Gen.OneOf("{", "}", "[", "]", ":", ",", "\"load\"", "\"head\"", "\"position\"", "\"cutting\"", "\"job\"", "\"time\"", "1.5", "-", "true", "null", "\"\\ud800\"", "\"\\u00e4\"", "\"a\"", " ").Select(text => Encoding.UTF8.GetBytes(text)));
        piece.Array[0, 40].Sample(
            pieces =>
            {
                byte[] payload = [.. pieces.SelectMany(bytes => bytes)];
                var frame = default(SignalFrame);
                var used = json.TryRead(payload, ref frame, out _, out _, out var trouble);
                Assert.Equal(used, trouble.Length == 0);
                Assert.True(trouble.Length < 400);
            },
            iter: 20_000,
            threads: 1);
    }

    [Fact]
    public void TryRead_ShapedJsonWithArbitraryValues_IsRead()
    {
        var json = new JsonFrame([.. Published.Json().Signals.Select(mapping => new PublishedSignal(mapping))], "time", _listener);
        Gen.Select(Gen.Double, Gen.Bool, Gen.String).Sample(
            (load, cutting, job) =>
            {
                var payload = System.Text.Json.JsonSerializer.SerializeToUtf8Bytes(new { load = double.IsFinite(load) ? load : 0, cutting, job, other = new { load = "x" } });
                var frame = default(SignalFrame);
                Assert.True(json.TryRead(payload, ref frame, out _, out _, out var trouble), trouble);
                Assert.Equal(double.IsFinite(load) ? load : 0, frame.Number(Signal.MotorLoad));
                Assert.Equal(cutting, frame.Flag(Signal.Cutting));
            },
            iter: 5_000,
            threads: 1);
    }

    private (SignalFrame Frame, DateTimeOffset Time, string Trouble) Read(string payload, string? time, params MqttMapping[] mappings)
    {
        var json = new JsonFrame(mappings.Select(mapping => new PublishedSignal(mapping)), time, _listener);
        var frame = default(SignalFrame);
        Assert.Equal(json.TryRead(Encoding.UTF8.GetBytes(payload), ref frame, out var read, out _, out var trouble), trouble.Length == 0);
        return (frame, read, trouble);
    }

    private sealed class Listener : IValueListener
    {
        public List<string> Bad { get; } = [];

        public void ValueRead(MappedSignal signal, bool good, ReadOnlySpan<byte> raw)
        {
            if (!good)
                Bad.Add(signal.Name);
        }
    }
}
