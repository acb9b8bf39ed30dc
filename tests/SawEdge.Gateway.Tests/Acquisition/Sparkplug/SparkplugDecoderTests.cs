using System.Text;
using CsCheck;
using SawEdge.Gateway.Acquisition.Sparkplug;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

public sealed class SparkplugDecoderTests
{
    private readonly SparkplugPayload _payload = new();

    [Fact]
    public void Decode_AllMembersOfAMetric_AreRead()
    {
        var time = new DateTimeOffset(2026, 3, 2, 6, 0, 0, 250, TimeSpan.Zero);
        var bytes = Encoded.Payload(1486144502122, 255, new Metric("Drive/Power", 5.25) { Alias = ulong.MaxValue, Time = time, IsHistorical = true, Quality = 500 });

        var metric = Assert.Single(Decode(bytes));

        Assert.Equal(1486144502122UL, _payload.Timestamp);
        Assert.Equal(255UL, _payload.Sequence);
        Assert.Equal("Drive/Power", Encoding.UTF8.GetString(bytes, metric.NameStart, metric.NameLength));
        Assert.True(metric.HasAlias);

        // alias_type, chapter 6: unsigned, 64 bits, field 2.
        Assert.Equal(ulong.MaxValue, metric.Alias);
        Assert.Equal((ulong)time.ToUnixTimeMilliseconds(), metric.Timestamp);
        Assert.True(metric.HasTimestamp);
        Assert.True(metric.IsHistorical);
        Assert.False(metric.IsNull);
        Assert.Equal(500, metric.Quality);
        Assert.Equal(SparkplugDataType.Double, metric.DataType);
        Assert.Equal(SparkplugValueKind.Double, metric.Kind);
        Assert.Equal(5.25, BitConverter.UInt64BitsToDouble(metric.Raw));
    }

    [Fact]
    public void Decode_EveryKindOfValue_IsToldApart()
    {
        var metrics = Decode(Encoded.Payload(
            1,
            0,
            new Metric("a", 4294967291U),
            new Metric("b", 18446744073709551611UL),
            new Metric("c", 1.5f),
            new Metric("d", double.NaN),
            new Metric("e", true),
            new Metric("f", "text"),
            new Metric("g", new byte[] { 1, 2 }),
            new Metric("h", new Encoded.Nested(17, [8, 1])),
            new Metric("i", new Encoded.Nested(18, [])),
            new Metric("j", new Encoded.Nested(19, [])),
            new Metric("k", null),
            new Metric("l", null) { IsNull = true }));

        Assert.Equal(
            [SparkplugValueKind.Int, SparkplugValueKind.Long, SparkplugValueKind.Float, SparkplugValueKind.Double, SparkplugValueKind.Boolean, SparkplugValueKind.String, SparkplugValueKind.Bytes, SparkplugValueKind.DataSet, SparkplugValueKind.Template, SparkplugValueKind.Extension, SparkplugValueKind.None, SparkplugValueKind.None],
            metrics.Select(metric => metric.Kind));
        Assert.Equal(4294967291UL, metrics[0].Raw);
        Assert.Equal(18446744073709551611UL, metrics[1].Raw);
        Assert.True(metrics[11].IsNull);
        Assert.False(metrics[0].HasAlias);
        Assert.Equal(-1, metrics[0].Quality);
    }

    [Fact]
    public void Decode_UnknownFields_AreSteppedOver()
    {
        var bytes = Encoded.Message(output =>
        {
            Encoded.Text(output, 4, "uuid");
            Encoded.Bytes(output, 5, [1, 2, 3]);
            Encoded.Number(output, 100, 5);
            output.WriteTag(101, Google.Protobuf.WireFormat.WireType.Fixed32);
            output.WriteFixed32(7);
            output.WriteTag(102, Google.Protobuf.WireFormat.WireType.Fixed64);
            output.WriteFixed64(7);
            Encoded.Number(output, 3, 7);
        });

        Assert.Empty(Decode(bytes));
        Assert.Equal(7UL, _payload.Sequence);
        Assert.Null(_payload.Timestamp);
    }

    [Fact]
    public void Decode_NothingAtAll_IsAnEmptyPayload()
    {
        Assert.Empty(Decode([]));
        Assert.Null(_payload.Sequence);
    }

    [Fact]
    public void Decode_BrokenOffAnywhere_IsRefusedOrAWholePayload()
    {
        var bytes = Encoded.Payload(1486144502122, 2, new Metric("name", "value") { Alias = 300, Quality = 192 }, new Metric("other", 1.5f));
        var good = 0;
        for (var length = 0; length < bytes.Length; length++)
        {
            if (SparkplugDecoder.TryDecode(bytes.AsSpan(0, length), _payload, out var trouble))
                good++;
            else
                Assert.NotEmpty(trouble);
        }

        // Only where a field of the payload ends: nothing, the time, either metric.
        Assert.Equal(4, good);
    }

    [Theory]
    [InlineData("00")] // field 0
    [InlineData("03")] // the wire type of a text, but field 0
    [InlineData("0b0c")] // a group, which the standard has given up
    [InlineData("0f")] // a wire type that does not exist
    [InlineData("08ffffffffffffffffffff01")] // a number of 11 bytes
    [InlineData("80808080808080808001")] // a tag beyond 32 bits
    [InlineData("12ffffffff0f")] // a metric of 4 GB
    [InlineData("12ffffffffffffffff7f")] // a metric of 9 EB
    [InlineData("12ffffffffffffffffff01")] // a metric of -1 bytes
    [InlineData("12020a7f")] // a name beyond the metric, though within nothing
    [InlineData("12020a051801")] // a name beyond its metric but within the payload
    [InlineData("12040d000000")] // a metric that breaks off in a fixed field
    [InlineData("12054a030a05ff")] // properties whose key goes beyond them
    public void Decode_Nonsense_IsRefusedWithAReason(string hex)
    {
        Assert.False(SparkplugDecoder.TryDecode(Convert.FromHexString(hex), _payload, out var trouble));
        Assert.Equal("it breaks off, or is no Protocol Buffers message", trouble);
    }

    [Fact]
    public void Decode_TemplateADeepMile_IsSteppedOver()
    {
        byte[] inner = [];
        for (var depth = 0; depth < 2000; depth++)
            inner = Encoded.Message(output => Encoded.Bytes(output, 2, Encoded.Message(metric => Encoded.Bytes(metric, 18, inner))));

        var metric = Assert.Single(Decode(Encoded.Payload(1, 0, new Metric("deep", new Encoded.Nested(18, inner), SparkplugDataType.Template))));

        Assert.Equal(SparkplugValueKind.Template, metric.Kind);
        Assert.Equal(inner.Length, metric.ValueLength);
    }

    [Fact]
    public void Decode_AsManyMetricsAsAllowed_AreReadAndOneMoreIsNot()
    {
        byte[] most = [.. Enumerable.Repeat(new byte[] { 0x12, 0 }, SparkplugPayload.MaximumMetrics).SelectMany(metric => metric)];
        Assert.Equal(SparkplugPayload.MaximumMetrics, Decode(most).Length);

        Assert.False(SparkplugDecoder.TryDecode([.. most, 0x12, 0], _payload, out var trouble));
        Assert.Equal("it holds more than 10000 metrics", trouble);
    }

    [Fact]
    public void Decode_SixteenMegabytesOfEmptyMetrics_TakeNoMemory()
    {
        var bytes = new byte[16 * 1024 * 1024];
        for (var i = 0; i < bytes.Length; i += 2)
            bytes[i] = 0x12;
        SparkplugDecoder.TryDecode(bytes, _payload, out _);

        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var i = 0; i < 100; i++)
            Assert.False(SparkplugDecoder.TryDecode(bytes, _payload, out _));

        // The reason that is said, and no more.
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 100 * 1000);
    }

    [Fact]
    public void Decode_GoodPayload_AllocatesNothing()
    {
        var bytes = Encoded.Payload(1486144502122, 2, [.. Enumerable.Range(0, 200).Select(i => new Metric($"Folder/Metric {i}", i * 0.5) { Alias = (ulong)i, Quality = 192 })]);
        Assert.True(SparkplugDecoder.TryDecode(bytes, _payload, out _));

        Assert.Equal(0, Allocations.Of(() =>
        {
            for (var i = 0; i < 1000; i++)
                SparkplugDecoder.TryDecode(bytes, _payload, out _);
        }));
    }

    [Fact]
    public void Decode_AnyBytes_StayWithinThemselves() => Gen.Byte.Array[0, 200].Sample(StaysWithin, iter: 50_000);

    [Fact]
    public void Decode_GoodPayloadWithAFewBytesChanged_StaysWithinItself()
    {
        var good = Encoded.Payload(1486144502122, 2, new Metric("name", "value") { Alias = 300, Quality = 192 }, new Metric("other", 1.5f), new Metric("set", new Encoded.Nested(17, [8, 1, 18, 1, 97])));
        Gen.Select(Gen.Int[0, good.Length - 1], Gen.Byte).Array[1, 4].Sample(
            changes =>
            {
                byte[] bytes = [.. good];
                foreach (var (place, value) in changes)
                    bytes[place] = value;
                StaysWithin(bytes);
            },
            iter: 50_000);
    }

    /// <summary>The node that is not ours writes the same bytes as the tests' own writer, so that both stand on the same ground.</summary>
    [PeerFact(EdgeNode.Python, EdgeNode.Protobuf)]
    public async Task Encoded_ByTheOtherImplementation_IsTheSame()
    {
        var made = await EdgeNode.EncodeAsync(
            """{"timestamp":1486144502122,"seq":2,"metrics":[{"name":"My Metric","alias":1,"timestamp":1479123452194,"type":"String","value":"Test"},{"name":"a","type":"Int16","value":-5,"quality":500}]}""",
            """{"timestamp":1,"seq":0,"metrics":[{"alias":7,"typed":false,"type":"Double","value":-1e-300},{"alias":18446744073709551615,"typed":false,"type":"Float","value":12.7},{"name":"n","type":"UInt64","null":true},{"name":"h","type":"Int64","value":-9,"historical":true},{"name":"b","type":"Boolean","value":true}]}""",
            """{"timestamp":1,"seq":255,"metrics":[{"name":"d","type":"DataSet"},{"name":"t","type":"Template","value":"ref"},{"name":"y","type":"Bytes","value":"00ff"}]}""");

        // The first payload is the example of chapter 6, "Payload Metric Naming Convention", with a second metric.
        Assert.Equal(
            Encoded.Payload(
                1486144502122,
                2,
                new Metric("My Metric", "Test", SparkplugDataType.String) { Alias = 1, Time = DateTimeOffset.FromUnixTimeMilliseconds(1479123452194) },
                new Metric("a", unchecked((uint)-5), SparkplugDataType.Int16) { Quality = 500 }),
            made[0]);
        Assert.Equal(
            Encoded.Payload(
                1,
                0,
                Metric.By(7, -1e-300),
                Metric.By(ulong.MaxValue, 12.7f),
                new Metric("n", null, SparkplugDataType.UInt64) { IsNull = true },
                new Metric("h", unchecked((ulong)-9L), SparkplugDataType.Int64) { IsHistorical = true },
                new Metric("b", true, SparkplugDataType.Boolean)),
            made[1]);
        Assert.Equal([SparkplugValueKind.DataSet, SparkplugValueKind.Template, SparkplugValueKind.Bytes], Decode(made[2]).Select(metric => metric.Kind));
    }

    private SparkplugMetric[] Decode(byte[] bytes)
    {
        Assert.True(SparkplugDecoder.TryDecode(bytes, _payload, out var trouble), trouble);
        Assert.Empty(trouble);
        return [.. _payload.Metrics];
    }

    private static void StaysWithin(byte[] bytes)
    {
        var payload = new SparkplugPayload();
        if (!SparkplugDecoder.TryDecode(bytes, payload, out var trouble))
        {
            Assert.NotEmpty(trouble);
            return;
        }

        foreach (ref readonly var metric in payload.Metrics)
        {
            Assert.True(metric.NameLength < 0 || metric.NameStart + metric.NameLength <= bytes.Length);
            Assert.True(metric.ValueStart >= 0 && metric.ValueLength >= 0 && metric.ValueStart + metric.ValueLength <= bytes.Length);
        }
    }
}
