using System.Globalization;
using SawEdge.Gateway.Tests.Acquisition.Mqtt;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Brokers;

/// <summary>
/// A broker that does everything wrong. Whatever it does: it is asked again at growing intervals, what is wrong is said once, and the
/// saws of another broker go on.
/// </summary>
public class HostileBrokerTests
{
    private readonly CollectedLog _log = new();

    /// <summary>What the broker sends after CONNECT before it closes, and what the gateway says.</summary>
    public static TheoryData<string, byte[], string> Answers
    {
        get
        {
            var answers = new TheoryData<string, byte[], string>
            {
                { "nothing", [], "" },
                { "half a header", [0x20], "" },
                { "half a packet", [0x20, 3, 0], "" },
                { "a web server", "HTTP/1.1 400 Bad Request\r\n\r\n"u8.ToArray(), "" },
                { "garbage", [.. Enumerable.Range(0, 5000).Select(i => (byte)(i * 31))], "" },
                { "a length that is none", [0x20, 0xFF, 0xFF, 0xFF, 0xFF], "whose length is no number" },
                { "a quarter of a gigabyte", [0x20, 0xFF, 0xFF, 0xFF, 0x7F, 0], "that is no message" },
                { "a message before it accepts", [0x30, 3, 0, 1, 97], "" },
            };

            // MQTT 5.0, 3.2.2.2: every code of a refusal.
            foreach (var code in new byte[] { 0x80, 0x81, 0x82, 0x83, 0x84, 0x85, 0x86, 0x87, 0x88, 0x89, 0x8A, 0x8C, 0x90, 0x95, 0x97, 0x99, 0x9A, 0x9B, 0x9C, 0x9D, 0x9F })
                answers.Add(string.Create(CultureInfo.InvariantCulture, $"refusal {code:X2}"), [0x20, 3, 0, code, 0], "it refuses the connection: ");
            return answers;
        }
    }

    [Theory]
    [MemberData(nameof(Answers))]
    public async Task AnswerToConnect_WhateverItIs_IsSaidOnceAndNotHammered(string what, byte[] answer, string words)
    {
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.ReadPacketAsync(stream, stop);
            await stream.WriteAsync(answer, stop);
        });
        await using var source = Start(broker.Port);
        await Until.TrueAsync(() => broker.Connections >= 2, $"a second attempt after {what}");
        Assert.InRange(broker.Connections, 2, 4);
        Assert.Equal([2200, 2201], _log.Entries.Select(entry => entry.Id));
        Assert.Contains(words, _log.Entries[1].Text, StringComparison.Ordinal);
        Assert.Contains($"127.0.0.1:{broker.Port}", _log.Entries[1].Text, StringComparison.Ordinal);
        Assert.DoesNotContain(_log.Entries, entry => entry.Text.Any(char.IsControl));
    }

    // MQTT 3.1.1, 3.2.2.3: every code of a refusal.
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    [InlineData(5)]
    [InlineData(99)]
    public async Task RefusalOfVersion311_IsSaidOnce(byte code)
    {
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.ReadPacketAsync(stream, stop);
            await stream.WriteAsync(new byte[] { 0x20, 2, 0, code }, stop);
        });
        await using var source = new RunningSource(Published.Broker(broker.Port) with { Version5 = false }, [Published.Json(time: null)], _log);
        await Until.TrueAsync(() => broker.Connections >= 2, "a second attempt");
        Assert.Equal([2200, 2201], _log.Entries.Select(entry => entry.Id));
    }

    [Theory]
    [InlineData("closes at once", new byte[0])]
    [InlineData("half a message", new byte[] { 0x30, 200, 1, 0, 10 })]
    [InlineData("garbage", new byte[] { 0x00, 0x00, 0xFF, 0xFF, 1, 2, 3, 4 })]
    [InlineData("a message without a topic", new byte[] { 0x30, 1, 0 })]
    [InlineData("quality of service 3", new byte[] { 0x36, 7, 0, 1, 97, 0, 1, 0, 1 })]
    [InlineData("an answer to nothing", new byte[] { 0x90, 4, 0x7F, 0x7F, 0, 1 })]
    [InlineData("goodbye", new byte[] { 0xE0, 2, 0x8B, 0 })]
    public async Task AfterTheWelcome_WhateverComes_EndsTheSessionAndIsSaidOnce(string what, byte[] bytes)
    {
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.WelcomeAsync(stream, stop);
            await stream.WriteAsync(bytes, stop);
        });
        await using var source = Start(broker.Port);
        await Until.TrueAsync(() => broker.Connections >= 2, $"a second attempt after '{what}'");
        await Until.TrueAsync(() => _log.Count(2201) >= 1, "it is said");
        Assert.InRange(broker.Connections, 2, 5);
        Assert.InRange(_log.Count(2201), 1, 3);
    }

    [Fact]
    public async Task AByteASecond_BeforeAccepting_IsGivenUpAndTheOtherBrokersSawsGoOn()
    {
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.ReadPacketAsync(stream, stop);
            using var second = new PeriodicTimer(TimeSpan.FromSeconds(1));
            foreach (var part in new byte[] { 0x20, 100 }.Concat(new byte[100]))
            {
                await stream.WriteAsync(new[] { part }, stop);
                await second.WaitForNextTickAsync(stop);
            }
        });
        await using var good = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.WelcomeAsync(stream, stop);
            await stream.WriteAsync(HostileBroker.Message("hall/saw-1", """{"load":7}"""), stop);
            await Task.Delay(Timeout.Infinite, stop);
        });
        await using var source = Start(broker.Port);
        await using var other = Start(good.Port);
        await Until.TrueAsync(() => other.Take().Count == 1, "the frame of the other broker's saw");
        await Until.TrueAsync(() => _log.Count(2201) == 1, "the silence is said");
        Assert.Contains("did not answer within 10 s", _log.Entries.Single(entry => entry.Id == 2201).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task BrokerThatAcceptsAndNeverGrantsATopic_IsGivenUpAndAskedAnew()
    {
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.ReadPacketAsync(stream, stop);
            await stream.WriteAsync(HostileBroker.Accepted, stop);
            await HostileBroker.ReadPacketAsync(stream, stop);
            while (true)
            {
                // MQTT 5.0, 3.13: the answer to a ping.
                await HostileBroker.ReadPacketAsync(stream, stop);
                await stream.WriteAsync(new byte[] { 0xD0, 0 }, stop);
            }
        });
        await using var source = Start(broker.Port);
        await Until.TrueAsync(() => broker.Connections >= 2, "a second attempt");
        Assert.Contains("did not answer within 10 s", Assert.Single(_log.Entries, entry => entry.Id == 2201).Text, StringComparison.Ordinal);
        Assert.False(source.Source.IsListening);
    }

    [Fact]
    public async Task AByteASecond_InAMessage_IsNoticedByTheMissingAnswerToThePing()
    {
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.WelcomeAsync(stream, stop);
            using var second = new PeriodicTimer(TimeSpan.FromSeconds(1));
            foreach (var part in new byte[] { 0x30, 0xFF, 0x7F }.Concat(new byte[1000]))
            {
                await stream.WriteAsync(new[] { part }, stop);
                await second.WaitForNextTickAsync(stop);
            }
        });
        await using var source = Start(broker.Port);
        await Until.TrueAsync(() => _log.Count(2201) == 1, "the stuck connection is given up");
        Assert.Empty(source.Take());
    }

    [Fact]
    public async Task AFloodOfMessages_StayBoundedAndTheOtherSawsFramesCome()
    {
        const int Messages = 200_000;
        await using var broker = new HostileBroker(async (stream, stop) =>
        {
            await HostileBroker.ReadPacketAsync(stream, stop);
            await stream.WriteAsync(HostileBroker.Accepted, stop);
            var subscribe = await HostileBroker.ReadPacketAsync(stream, stop);
            await stream.WriteAsync(new byte[] { 0x90, 5, subscribe[0], subscribe[1], 0, 1, 1 }, stop);
            var flood = HostileBroker.Message("hall/saw-1", """{"load":1}""");
            byte[] many = [.. Enumerable.Repeat(flood, 1000).SelectMany(message => message)];
            for (var i = 0; i < Messages / 1000; i++)
            {
                await stream.WriteAsync(many, stop);
                await stream.WriteAsync(HostileBroker.Message("hall/saw-2", """{"load":2}"""), stop);
            }

            await Task.Delay(Timeout.Infinite, stop);
        });
        await using var source = new RunningSource(Published.Broker(broker.Port), [Published.Json(time: null), Published.Json("hall/saw-2", time: null)], _log);
        await Until.TrueAsync(() => source.Take(1).Count == Messages / 1000, () => $"each frame of the other saw; there are {source.Take(1).Count}");
        Assert.Equal(0, source.Lost(1));
        Assert.Equal([2200], _log.Entries.Select(entry => entry.Id));
    }

    private RunningSource Start(int port) => new(Published.Broker(port), [Published.Json(time: null)], _log);
}
