using System.Buffers.Binary;
using System.Text;
using System.Text.Json.Nodes;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Tests.Processing;

public sealed class MemoryCodecTests
{
    private static readonly PipelineMemory Memory = new()
    {
        Detector = new DetectorMemory { IdleLoadKw = 0.1 + 0.2, Job = "J" },
        LastCycleEnd = new DateTimeOffset(2026, 3, 2, 6, 0, 0, 123, TimeSpan.Zero),
        Recorder = new RecorderMemory
        {
            Learned = new LearnedState([new LearnedKind(new LearnedKey("saw", "1045", "round", ""), 3, 1 / 3.0, 0.01)], []),
            Blades = [new BladeAccount { Blade = "B-1", Origin = BladeOrigin.Operator, AreaCm2 = 1234.5, SeenNew = true, Wear = [new WearPoint(1, 0.1, 20)] }],
        },
    };

    [Fact]
    public void Decode_WhatWasEncoded_IsTheSame()
    {
        var clock = new SavedClock("a boot", new DateTimeOffset(2026, 3, 2, 5, 59, 59, 123, TimeSpan.Zero).AddTicks(4567));
        var read = MemoryCodec.Decode(MemoryCodec.Encode(Memory, 17, 321, clock));

        Assert.Equal(clock, read.Clock);
        Assert.Null(MemoryCodec.Decode(MemoryCodec.Encode(Memory, 17, 321)).Clock);
        Assert.Equal((17, 321, "", Memory.LastCycleEnd), (read.Entries, read.SinceCheckpoint, read.Unusable, read.LastCycleEnd));
        Assert.Equal(Memory.Detector, read.Detector);
        Assert.Equal(Memory.Recorder.Learned.Kinds, read.Recorder!.Learned.Kinds);
        Assert.Equal(Memory.Recorder.Blades[0] with { Wear = [] }, read.Recorder.Blades[0] with { Wear = [] });
        Assert.Equal(Memory.Recorder.Blades[0].Wear, read.Recorder.Blades[0].Wear);
        var again = MemoryCodec.DecodeCheckpoint(MemoryCodec.EncodeCheckpoint(Memory.Recorder));
        Assert.Equal(Memory.Recorder.Learned.Kinds, again.Learned.Kinds);
    }

    [Fact]
    public void Decode_ComputedInAnotherWay_KeepsTheDetectorAndSaysWhyTheRestIsUnusable()
    {
        var state = MemoryCodec.Encode(Memory, 17, 0);
        var text = Encoding.Latin1.GetString(state.Data.Span);
        var other = text.Replace($"\"Algorithm\":{LoadAssessment.Algorithm}", "\"Algorithm\":0", StringComparison.Ordinal);
        Assert.NotEqual(text, other);

        var read = MemoryCodec.Decode(state with { Data = Encoding.Latin1.GetBytes(other) });

        Assert.Null(read.Recorder);
        Assert.Contains("in way 0", read.Unusable, StringComparison.Ordinal);
        Assert.Equal(Memory.Detector, read.Detector);
    }

    [Fact]
    public void Decode_TheRecorderDamaged_KeepsTheDetector()
    {
        var state = MemoryCodec.Encode(Memory, 17, 0);
        var read = MemoryCodec.Decode(state with { Data = state.Data[..^3] });

        Assert.Null(read.Recorder);
        Assert.Contains("damaged", read.Unusable, StringComparison.Ordinal);
        Assert.Equal(Memory.Detector, read.Detector);
    }

    // As version 1 wrote it, shortened.
    [Fact]
    public void Decode_TheFirstFormat_TakesOverCutTimes()
    {
        const string First = """
            {"Detector":{"IdleLoadKw":0.4,"Job":"J"},"LastCycleEnd":"2026-03-02T06:00:00.123+00:00",
             "Learned":{"Kinds":[{"Key":{"Saw":"saw","Material":"1045","Family":"round","BladeType":""},"Cuts":3,"MeanLog":0.1,"Squares":0.01}],"Jobs":[]},
             "Blades":[{"Blade":"B-1","AreaCm2":1234.5,"SeenNew":true},{"Blade":"B-2","AreaCm2":null,"SeenNew":false}]}
            """;
        var read = MemoryCodec.Decode(new SawState(1, Encoding.UTF8.GetBytes(First)));

        Assert.Equal(0.4, read.Detector.IdleLoadKw);
        Assert.Equal(3, Assert.Single(read.Recorder!.Learned.Kinds).Cuts);
    }

    // What a program wrote that did not know of a part yet: all of the watch, or one value of it.
    [Theory]
    [InlineData("Watch")]
    [InlineData("Watch", "Jobs")]
    [InlineData("Detector", "UsualJob")]
    [InlineData("Detector", "Mode")]
    public void Decode_AStateThatLacksAPart_ReadsAsIfNothingOfItHadBeenLearned(params string[] path)
    {
        var read = MemoryCodec.Decode(Without(MemoryCodec.Encode(Memory, 17, 0), path));

        Assert.Empty(read.Watch.Jobs);
        Assert.Equal(("", ""), (read.Detector.UsualJob, read.Detector.Mode));
        Assert.NotNull(read.Recorder);
        var pipeline = new SawPipeline(new SawMachine { Name = "saw" }, JobBook.Empty);
        pipeline.Restore(read.WithoutRecorder);
        Assert.Empty(pipeline.Save().Watch.Jobs);
    }

    [Theory]
    [InlineData("Learned")]
    [InlineData("Blades")]
    [InlineData("Load")]
    public void Decode_ARecorderThatLacksAPart_IsToBeComputedAnew(string part)
    {
        var state = MemoryCodec.Encode(Memory, 17, 0);
        var length = BinaryPrimitives.ReadInt32LittleEndian(state.Data.Span);
        var recorder = JsonNode.Parse(state.Data.Span[(4 + length)..])!.AsObject();
        Assert.True(recorder.Remove(part));

        var read = MemoryCodec.Decode(state with { Data = (byte[])[.. state.Data.Span[..(4 + length)], .. Encoding.UTF8.GetBytes(recorder.ToJsonString())] });

        Assert.Null(read.Recorder);
        Assert.Equal("what was learned lacks a part", read.Unusable);
        Assert.Equal(Memory.Detector, read.Detector);
    }

    public static TheoryData<int, byte[]> Unreadable => new()
    {
        { 3, [1, 2, 3] },
        { 2, [] },
        { 2, [0, 0, 0, 0] },
        { 2, [255, 0, 0, 0, 123] },
        { 2, [2, 0, 0, 0, 123, 125] },
        { 1, [123] },
        { 1, [123, 125] },
    };

    [Theory]
    [MemberData(nameof(Unreadable))]
    public void Decode_OtherBytes_AreRefused(int version, byte[] data) => Assert.Throws<FormatException>(() => MemoryCodec.Decode(new SawState(version, data)));

    [Fact]
    public void DecodeCheckpoint_OtherBytes_AreRefused()
    {
        Assert.Throws<FormatException>(() => MemoryCodec.DecodeCheckpoint(new SawState(1, new byte[] { 1 })));
        Assert.Throws<FormatException>(() => MemoryCodec.DecodeCheckpoint(new SawState(MemoryCodec.CheckpointVersion, new byte[] { 1, 2, 3 })));
    }

    private static SawState Without(SawState state, string[] path)
    {
        var length = BinaryPrimitives.ReadInt32LittleEndian(state.Data.Span);
        var head = JsonNode.Parse(state.Data.Span.Slice(4, length))!.AsObject();
        var holder = path[..^1].Aggregate(head, (node, name) => node[name]!.AsObject());
        Assert.True(holder.Remove(path[^1]));
        var bytes = Encoding.UTF8.GetBytes(head.ToJsonString());
        var data = new byte[4];
        BinaryPrimitives.WriteInt32LittleEndian(data, bytes.Length);
        return state with { Data = (byte[])[.. data, .. bytes, .. state.Data.Span[(4 + length)..]] };
    }
}
