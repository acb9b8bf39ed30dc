using SawEdge.Core.Signals;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

public sealed class SampleCodecTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);
    private static readonly TimeSpan Ten = TimeSpan.FromSeconds(10);

    public static TheoryData<int> Seeds => [.. Enumerable.Range(1, 500)];

    [Theory]
    [MemberData(nameof(Seeds))]
    public void Decode_OfWhatWasEncoded_GivesItBackBitForBit(int seed)
    {
        var random = new Random(seed);
        var sample = Samples.Made(random, 1 + random.Next(100_000));
        Samples.Same(sample, SampleCodec.Decode(sample.From, sample.Every, sample.Frames, SampleCodec.Encode(sample)));
    }

    [Fact]
    public void Encode_ASawThatStands_TakesFewBytes()
    {
        SignalFigures Always(float value) => new(100, value, value, value, value);
        var standing = new SignalSample(Begin, Ten, 100, [Always(320.5f), Always(0), Always(0), Always(0), Always(0), Always(0), default]);
        Assert.Equal(12, SampleCodec.Encode(standing).Length);
    }

    [Fact]
    public void Decode_AnyBytes_GivesASampleOrSaysWhatIsWrong()
    {
        var random = new Random(7);
        var good = SampleCodec.Encode(Samples.Made(random, 50));
        for (var n = 0; n < 20_000; n++)
        {
            var bytes = (byte[])good.Clone();
            for (var change = random.Next(4); change >= 0; change--)
                bytes[random.Next(bytes.Length)] = (byte)random.Next(256);
            bytes = bytes[..random.Next(bytes.Length + 1)];
            try
            {
                SampleCodec.Decode(Begin, Ten, 50, bytes);
            }
            catch (InvalidDataException e)
            {
                Assert.StartsWith("A stored sample", e.Message, StringComparison.Ordinal);
            }
        }
    }

    [Theory]
    [InlineData(new byte[0], "A stored sample is empty.")]
    [InlineData(new byte[] { 2, 0, 0, 0, 0, 0, 0, 0 }, "A stored sample has version 2; this program knows version 1.")]
    [InlineData(new byte[] { 1, 0, 0, 0 }, "A stored sample ends in the middle of a value.")]
    [InlineData(new byte[] { 1, 0, 0, 0, 0, 0, 0, 0, 0 }, "A stored sample is 1 bytes longer than its values.")]
    [InlineData(new byte[] { 1, 7, 0, 0, 0, 0, 0, 0 }, "A stored sample has a value of form 7, which this program does not know.")]
    [InlineData(new byte[] { 1, 9, 6, 0, 0, 0, 0, 0, 0, 0, 0, 0 }, "A stored sample of 5 frames has a value that comes in 6 of them.")]
    public void Decode_WhatIsNoSample_IsSaid(byte[] bytes, string problem) =>
        Assert.Equal(problem, Assert.Throws<InvalidDataException>(() => SampleCodec.Decode(Begin, Ten, 5, bytes)).Message);
}
