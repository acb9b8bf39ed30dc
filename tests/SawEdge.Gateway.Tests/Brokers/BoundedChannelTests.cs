using System.Buffers.Binary;
using System.Net;
using System.Text;
using CsCheck;
using MQTTnet.Exceptions;
using MQTTnet.Implementations;
using SawEdge.Gateway.Brokers;

namespace SawEdge.Gateway.Tests.Brokers;

/// <summary>What the library is given of what the network brings: bytes by the layout of MQTT 3.1.1 and 5.0, section 3.3.</summary>
public class BoundedChannelTests
{
    private const int Limit = 100;

    [Fact]
    public void Read_PacketsWithinTheLimit_AreHandedOnByteByByteTheSame() =>
        Gen.Select(
            Gen.Select(Gen.Byte, Gen.Int[0, Limit]).Array[1, 20],
            Gen.Int[1, 50],
            Gen.Int[1, 300]).Sample(
            (packets, chunk, take) =>
            {
                var bytes = packets.SelectMany(packet => Packet(packet.Item1, new byte[packet.Item2])).ToArray();
                Assert.Equal(bytes, ReadAll(bytes, version5: true, chunk, take));
            },
            iter: 1000);

    [Theory]
    [InlineData(false, 0)]
    [InlineData(false, 1)]
    [InlineData(true, 0)]
    [InlineData(true, 2)]
    public void Read_PayloadBeyondTheLimit_IsCutToOneByteMoreThanTheLimit(bool version5, int quality)
    {
        foreach (var (length, properties) in new[] { (Limit + 1, 0), (Limit + 2, 10), (5000, 0), (300_000, 200), (1000, 100_000), (20, 100_000) })
        {
            var sent = Message("hall/saw-1", quality, version5 ? properties : null, length);
            var cut = length > Limit || (version5 && properties > 64 * 1024);
            var expected = cut ? Message("hall/saw-1", quality, version5 ? 0 : null, Math.Min(length, Limit + 1)) : sent;
            byte[] after = Packet(0xD0, []);
            foreach (var chunk in new[] { 1, 7, 4096 })
                Assert.Equal([.. expected, .. after, .. after], ReadAll([.. sent, .. after, .. after], version5, chunk, 4096));
        }
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Read_PayloadOfTheLimit_IsHandedOnWithItsProperties(bool version5)
    {
        var sent = Message("hall/saw-1", 1, version5 ? 500 : null, Limit);
        Assert.Equal(sent, ReadAll(sent, version5, 64, 64));
    }

    [Fact]
    public void Read_LongestTopic_IsKept()
    {
        var topic = new string('t', 65535);
        Assert.Equal(Message(topic, 1, 0, Limit + 1), ReadAll(Message(topic, 1, 3, 70_000), version5: true, 4096, 4096));
    }

    [Theory]
    [InlineData(new byte[] { 0x30, 0xFF, 0xFF, 0xFF, 0xFF, 0x01 })]
    [InlineData(new byte[] { 0x90, 0xFF, 0xFF, 0xFF, 0x7F })]
    [InlineData(new byte[] { 0x30, 0xC8, 0x01, 0xFF, 0xFF, 1, 2, 3 })]
    public void Read_WhatIsNoPacket_IsRefused(byte[] bytes) =>
        Assert.Throws<MqttProtocolViolationException>(() => ReadAll([.. bytes, .. new byte[70_000]], version5: false, 4096, 4096));

    [Fact]
    public void Read_AnyBytes_EndsOrIsRefusedAndTakesNoMemory() =>
        Gen.Select(Gen.Byte.Array[0, 2000], Gen.Bool).Sample(
            (bytes, version5) =>
            {
                try
                {
                    ReadAll(bytes, version5, 100, 100);
                }
                catch (MqttProtocolViolationException)
                {
                    // As it should be.
                }
            },
            iter: 5000);

    [Fact]
    public async Task Read_QuarterOfAGigabyte_TakesNoMemoryOfThatSize()
    {
        const int Length = 256 * 1024 * 1024 - 1 - 16;
        var head = Message("hall/saw-1", 0, null, 0)[2..];
        using var network = new MqttTcpChannel(new ZerosAfter([0x30, 0xFF, 0xFF, 0xFF, 0x7F, .. head], Length), new IPEndPoint(0, 0), new IPEndPoint(0, 0), null);
        using var channel = new BoundedChannel(network, Limit, version5: false);
        var before = GC.GetAllocatedBytesForCurrentThread();
        var buffer = new byte[4096];
        long read = 0;
        while (await channel.ReadAsync(buffer, 0, buffer.Length, CancellationToken.None) is > 0 and var some)
            read += some;
        Assert.Equal(Message("hall/saw-1", 0, null, Limit + 1).Length, read);
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 64 * 1024 * 1024);
    }

    [Fact]
    public async Task Read_WhileManyMessagesAreNotDoneWith_Waits()
    {
        const int Largest = 8 * 1024 * 1024;
        byte[] bytes = [.. Enumerable.Range(0, 5).SelectMany(_ => Message("a", 0, null, 10)), .. Packet(0xD0, [])];
        using var network = new MqttTcpChannel(new MemoryStream(bytes), new IPEndPoint(0, 0), new IPEndPoint(0, 0), null);
        using var channel = new BoundedChannel(network, Largest, version5: false);
        var buffer = new byte[15];
        for (var i = 0; i < 4; i++)
            Assert.Equal(15, await channel.ReadAsync(buffer, 0, buffer.Length, CancellationToken.None));
        var fifth = channel.ReadAsync(buffer, 0, buffer.Length, CancellationToken.None);
        Assert.False(fifth.IsCompleted);
        channel.Handled();
        Assert.Equal(15, await fifth);
        Assert.Equal(2, await channel.ReadAsync(buffer, 0, buffer.Length, CancellationToken.None));
    }

    private static byte[] ReadAll(byte[] bytes, bool version5, int chunk, int take)
    {
        using var network = new MqttTcpChannel(new Chunks(bytes, chunk), new IPEndPoint(0, 0), new IPEndPoint(0, 0), null);
        using var channel = new BoundedChannel(network, Limit, version5);
        var all = new MemoryStream();
        var buffer = new byte[take];
        while (true)
        {
            var read = channel.ReadAsync(buffer, 0, take, CancellationToken.None).GetAwaiter().GetResult();
            if (read == 0)
                return all.ToArray();
            all.Write(buffer, 0, read);
        }
    }

    private static byte[] Message(string topic, int quality, int? properties, int payload)
    {
        var name = Encoding.UTF8.GetBytes(topic);
        var length = new byte[2];
        BinaryPrimitives.WriteUInt16BigEndian(length, (ushort)name.Length);
        byte[] identifier = quality > 0 ? [0x12, 0x34] : [];
        byte[] said = properties is { } count ? [.. Number(count), .. new byte[count]] : [];
        return Packet((byte)(0x30 | (quality << 1)), [.. length, .. name, .. identifier, .. said, .. Enumerable.Range(0, payload).Select(i => (byte)i)]);
    }

    private static byte[] Packet(byte header, byte[] body) => [header, .. Number(body.Length), .. body];

    private static IEnumerable<byte> Number(int value)
    {
        do
        {
            yield return (byte)((value & 0x7F) | (value > 0x7F ? 0x80 : 0));
            value >>= 7;
        }
        while (value > 0);
    }

    private sealed class Chunks(byte[] bytes, int chunk) : MemoryStream(bytes)
    {
        public override Task<int> ReadAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) =>
            base.ReadAsync(buffer, offset, Math.Min(count, chunk), cancellationToken);

        public override ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default) =>
            base.ReadAsync(buffer[..Math.Min(buffer.Length, chunk)], cancellationToken);
    }

    private sealed class ZerosAfter(byte[] head, long zeros) : MemoryStream(head)
    {
        private long _left = zeros;

        public override ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
        {
            var read = Read(buffer.Span);
            if (read > 0)
                return new(read);
            read = (int)Math.Min(_left, buffer.Length);
            buffer.Span[..read].Clear();
            _left -= read;
            return new(read);
        }

        public override Task<int> ReadAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) => ReadAsync(buffer.AsMemory(offset, count), cancellationToken).AsTask();
    }
}
