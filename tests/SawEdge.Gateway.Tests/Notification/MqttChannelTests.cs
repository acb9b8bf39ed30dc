using System.Globalization;
using System.Text.Json;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification.Mqtt;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>The states of alarms at a real broker, read by its own client.</summary>
public sealed class MqttChannelTests
{
    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task Events_AreRetainedAsTheLatestStateOfEachAlarm()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var history = new RunningHistory();
        var alarm = Samples.Overload(1);
        var over = alarm with { State = AlarmState.Normal, IsActive = false, ClearedAt = alarm.RaisedAt.AddMinutes(1), AcknowledgedBy = "anna" };
        await RunningChannel.StoreAsync(history, [Occurrences.Event(alarm), Occurrences.Event(over, AlarmEventKind.Cleared, 60, AlarmState.Acknowledged), Occurrences.Event(Samples.Overload(2, "saw/2+#"))]);
        await using var channel = new RunningChannel(history, Options, TimeProvider.System, Broker(broker));

        await channel.ReachesAsync(await history.Reader.LastSequenceAsync());

        var retained = await RetainedAsync(broker, 2);
        Assert.Equal(["sawedge/Riverbend/gateway1/alarm/saw/saw%2F2%2B%23/overload", "sawedge/Riverbend/gateway1/alarm/saw/saw-1/overload"], retained.Keys.Order(StringComparer.Ordinal));
        var first = retained["sawedge/Riverbend/gateway1/alarm/saw/saw-1/overload"];
        Assert.Equal("normal", first.GetProperty("state").GetString());
        Assert.Equal("acknowledged", first.GetProperty("stateBefore").GetString());
        Assert.Equal("cleared", first.GetProperty("kind").GetString());
        Assert.Equal(1, first.GetProperty("alarm").GetProperty("number").GetInt64());
        Assert.False(first.GetProperty("alarm").GetProperty("active").GetBoolean());
        Assert.Equal("saw/2+#", retained["sawedge/Riverbend/gateway1/alarm/saw/saw%2F2%2B%23/overload"].GetProperty("subject").GetString());
    }

    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task BrokerDownForAWeek_TheLatestStateIsThereAfterwardsAndNothingIsGivenUp()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await broker.KillAsync();
        await using var history = new RunningHistory();
        var time = new FakeTimeProvider(DateTimeOffset.UtcNow);
        var alarm = Samples.Overload(1);
        await RunningChannel.StoreAsync(history, [Occurrences.Event(alarm), .. Enumerable.Range(1, 50).Select(i => Occurrences.Event(alarm with { Activations = i }, AlarmEventKind.Commented, i, AlarmState.Unacknowledged))]);
        await using var channel = new RunningChannel(history, Options, time, Broker(broker));
        await channel.UntilAsync(() => channel.InTrouble, () => "it notices");
        time.Advance(TimeSpan.FromDays(7));
        await broker.StartAgainAsync();

        await channel.ReachesAsync(await history.Reader.LastSequenceAsync(), () => time.Advance(TimeSpan.FromSeconds(5)));

        Assert.Equal(50, (await RetainedAsync(broker, 1)).Single().Value.GetProperty("alarm").GetProperty("activations").GetInt32());
        Assert.Empty(await history.Reader.RefusalsAsync("states"));
        Assert.Equal([7001, 7002, 7004], channel.Log.Entries.Select(entry => entry.Id));
        Assert.Contains("Check that the broker runs there", channel.Log.Entries[1].Text, StringComparison.Ordinal);
    }

    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task EventThatComesIntoTheJournalAgain_DoesNotTakeThePlaceOfALaterOne()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var history = new RunningHistory();
        var (first, second) = (Samples.Overload(1), Samples.Overload(2));
        await RunningChannel.StoreAsync(history, [Occurrences.Event(first), Occurrences.Event(first with { State = AlarmState.Normal, IsActive = false }, AlarmEventKind.Cleared, 5)]);
        await RunningChannel.StoreAsync(history, [Occurrences.Event(second with { RaisedAt = first.RaisedAt.AddSeconds(10) })]);
        await using (var before = new RunningChannel(history, Options, TimeProvider.System, Broker(broker)))
            await before.ReachesAsync(3);
        history.Ask("INSERT INTO journal(kind, saw, item, at) SELECT kind, saw, item, at FROM journal WHERE seq IN (1, 2) ORDER BY seq");
        await using var channel = new RunningChannel(history, Options, TimeProvider.System, Broker(broker));

        await channel.ReachesAsync(5);

        Assert.Equal(2, (await RetainedAsync(broker, 1)).Single().Value.GetProperty("alarm").GetProperty("number").GetInt64());
    }

    [PeerFact("mosquitto", "mosquitto_passwd")]
    public async Task WrongPassword_NeedsMending()
    {
        await using var broker = await MosquittoBroker.StartWithUserAsync("sawedge", "hush");
        await using var history = new RunningHistory();
        await RunningChannel.StoreAsync(history, [Occurrences.Event(Samples.Overload(1))]);
        await using var channel = new RunningChannel(history, Options, TimeProvider.System, Broker(broker) with { User = "sawedge", Password = "wrong" });

        await channel.UntilAsync(() => channel.Log.Count(7003) == 1, () => "it is said");

        Assert.Contains("user and password", channel.Log.Entries[1].Text, StringComparison.Ordinal);
        Assert.Equal(0, await history.Reader.CursorAsync("states"));
    }

    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task Version3_WorksAsWell()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        await using var history = new RunningHistory();
        await RunningChannel.StoreAsync(history, [Occurrences.Event(Samples.Overload(1))]);
        await using var channel = new RunningChannel(history, Options, TimeProvider.System, Broker(broker) with { Version5 = false });

        await channel.ReachesAsync(await history.Reader.LastSequenceAsync());

        Assert.Single(await RetainedAsync(broker, 1));
    }

    [PeerFact("mosquitto", "mosquitto_sub")]
    public async Task SecuredBroker_IsReachedAsBySaws_AndTroubleWithCertificatesNeedsMending()
    {
        using var authority = new PlantAuthority();
        var own = authority.Make("gateway1");
        await using var broker = await MosquittoBroker.StartSecuredAsync(authority, authority.Make("broker", ["127.0.0.1"]), wantsCertificate: true);
        await using var history = new RunningHistory();
        await RunningChannel.StoreAsync(history, [Occurrences.Event(Samples.Overload(1))]);
        using var other = new PlantAuthority("Somebody else");
        await using (var wrong = new RunningChannel(history, Options, TimeProvider.System, Broker(broker) with { Tls = new BrokerTlsOptions { CaFile = other.RootFile } }))
        {
            await wrong.UntilAsync(() => wrong.Log.Count(7003) == 1, () => "it is said");
            Assert.Contains("the authority of its certificate ('Riverbend plant authority') is not that of caFile", wrong.Log.Entries[1].Text, StringComparison.Ordinal);
        }

        await using var channel = new RunningChannel(history, Options, TimeProvider.System, Broker(broker) with { Tls = new BrokerTlsOptions { CaFile = authority.RootFile, CertificateFile = own.Certificate, KeyFile = own.Key } });
        await channel.ReachesAsync(await history.Reader.LastSequenceAsync());
        Assert.Single(await RetainedAsync(broker, 1, "--cafile", authority.RootFile, "--cert", own.Certificate, "--key", own.Key));
    }

    [Theory]
    [InlineData("saw-1", "saw-1")]
    [InlineData("a/b", "a%2Fb")]
    [InlineData("a%2Fb", "a%252Fb")]
    [InlineData("+", "%2B")]
    [InlineData("#", "%23")]
    [InlineData("a\0b\n", "a%00b%0A")]
    [InlineData("", "%")]
    [InlineData("锯 \U0001F527", "锯 \U0001F527")]
    public void Part_AnyName_IsOneLevelOfItsOwn(string name, string part) => Assert.Equal(part, StateTopics.Part(name));

    private static MqttChannelOptions Options => new() { Name = "states", Broker = "hall" };

    private static MqttBrokerOptions Broker(MosquittoBroker broker) => new() { Name = "hall", Host = "127.0.0.1", Port = broker.Port, ClientId = "gateway1" };

    private static async Task<Dictionary<string, JsonElement>> RetainedAsync(MosquittoBroker broker, int count, params string[] arguments)
    {
        var (exit, output) = await Peer.RunAsync(
            "mosquitto_sub",
            ["-h", "127.0.0.1", "-p", broker.Port.ToString(CultureInfo.InvariantCulture), "-t", "sawedge/#", "--retained-only", "-F", "%t\t%p", "-C", count.ToString(CultureInfo.InvariantCulture), "-W", "20", .. arguments]);
        Assert.True(exit == 0, output);
        return output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => line.Split('\t', 2)).ToDictionary(pair => pair[0], pair => JsonDocument.Parse(pair[1]).RootElement, StringComparer.Ordinal);
    }
}
