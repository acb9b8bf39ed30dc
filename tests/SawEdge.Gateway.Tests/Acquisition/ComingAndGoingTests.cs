using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.Acquisition.Modbus;
using SawEdge.Gateway.Tests.Acquisition.Mqtt;
using SawEdge.Gateway.Tests.Acquisition.Sparkplug;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition;

/// <summary>Saws that come and go while the others behind the same connection are read.</summary>
public sealed class ComingAndGoingTests
{
    private const int NotOfASaw = 2211;

    [PeerFact("mosquitto", "mosquitto_pub")]
    public async Task AtABroker_TheConnectionStays_NothingOfTheOthersIsLostOrComesTwice()
    {
        await using var broker = await MosquittoBroker.StartAsync();
        var log = new CollectedLog();
        await using var running = new RunningSource(Published.Broker(broker.Port), [Templated("saw-1"), Templated("saw-2")], log);
        ISawSource source = running.Source;
        await running.ListensAsync();
        var sent = 0;
        async Task SendAsync(int count)
        {
            for (var i = 0; i < count; i++)
                await broker.PublishAsync("hall/saw-1/frame", $$"""{"load":{{++sent}}}""", "-q", "1");
        }

        // The two share a subscription; a third that fits under it is read without another.
        await SendAsync(3);
        await broker.PublishAsync("hall/saw-3/frame", """{"load":1}""");
        await Until.TrueAsync(() => log.Count(NotOfASaw) == 1, "the topic is of no saw");
        var third = new SawInbox("saw-3");
        await source.AddAsync(Published.Saw(Templated("saw-3"), "saw-3"), third, CancellationToken.None);
        await SendAsync(3);
        await broker.PublishAsync("hall/saw-3/frame", """{"load":33}""");
        await Until.TrueAsync(() => third.Offered > 0, "the third is read");
        Assert.Equal(33, Assert.Single(third.Drain()).Number(Signal.MotorLoad));

        // One with a topic of its own needs another.
        var fourth = new SawInbox("saw-4");
        await source.AddAsync(Published.Saw(Published.Json("yard/saw-4", time: null), "saw-4"), fourth, CancellationToken.None);
        await Until.TrueAsync(
            async () =>
            {
                await broker.PublishAsync("yard/saw-4", """{"load":4}""");
                return fourth.Offered > 0;
            },
            "the fourth is subscribed to");

        // Two go; of the one nothing more is taken, the other subscription stays for the first.
        await source.RemoveAsync("saw-2", CancellationToken.None);
        await source.RemoveAsync("saw-4", CancellationToken.None);
        Assert.True(fourth.Frames.Completion.IsCompleted || fourth.Waiting > 0);
        var offered = fourth.Offered;
        await broker.PublishAsync("yard/saw-4", """{"load":4}""");
        await SendAsync(3);
        await Until.TrueAsync(() => running.Take().Count >= sent, "all of the first are there");

        Assert.Equal(Enumerable.Range(1, sent).Select(value => (double)value), running.Taken.Select(frame => frame.Number(Signal.MotorLoad)));
        Assert.Equal(offered, fourth.Offered);
        Assert.Equal(1, running.Source.Connections);
        Assert.False(running.Source.IsAway);
    }

    [Fact]
    public void ASparkplugSaw_IsFollowedFromItsBirthOn_AndTheOthersOfTheNodeAreNotTouched()
    {
        var host = new HostBench(new SparkplugHostOptions { Rebirth = true });
        host.Births();
        Assert.Single(host.Frames());
        var inbox = new SawInbox("saw-2");
        host.Listener.Add(HostBench.Saw("saw-2", "saw-2"), inbox);
        host.Send("DDATA", "saw-1", Metric.By(12, 2000.0));
        Assert.Equal(2, Assert.Single(host.Frames()).Number(Signal.MotorLoad));
        Assert.Empty(host.Published);

        // What was not born is asked for.
        host.Send("DDATA", "saw-2", Metric.By(12, 1000.0));
        Assert.Single(host.Published);
        Assert.Empty(inbox.Drain());
        host.Send("DBIRTH", "saw-2", HostBench.Metrics());
        host.Advance(20);
        Assert.Single(inbox.Drain());

        var filters = host.Listener.Filters.Count;
        host.Listener.Add(HostBench.Saw("saw-3", "saw-3", "hall-3"), new SawInbox("saw-3"));
        Assert.True(host.Listener.Filters.Count > filters);
        host.Listener.Remove("saw-3");
        Assert.Equal(filters, host.Listener.Filters.Count);
        host.Listener.Remove("saw-2");
        Assert.True(inbox.Frames.Completion.IsCompleted);
        host.Send("DDATA", "saw-1", Metric.By(12, 3000.0));
        Assert.Equal(3, Assert.Single(host.Frames()).Number(Signal.MotorLoad));
        Assert.Equal(["saw-1"], host.Listener.Saws);
    }

    [Fact]
    public async Task ADeviceThatIsAway_DoesNotKeepASawFromComingOrGoing()
    {
        // Nobody listens there: the poller waits up to half a minute between two tries, by a clock that stands.
        await using var bench = new PollerBench(Peer.FreePort(), 1, TimeSpan.FromSeconds(5));
        ISawSource source = bench.Poller;
        await bench.PassUntilAsync(() => bench.Poller.IsAway, "the device is away");
        var inbox = new SawInbox("saw-2");
        await source.AddAsync(PollerBench.Saw(2), inbox, CancellationToken.None).WaitAsync(TimeSpan.FromMinutes(3));
        Assert.Equal(SignalQuality.SourceFault, Assert.Single(inbox.Drain()).QualityOf(Signal.MotorLoad));
        Assert.NotNull(source.CountersOf("saw-2"));
        await source.RemoveAsync("saw-1", CancellationToken.None).WaitAsync(TimeSpan.FromMinutes(3));
        Assert.Null(source.CountersOf("saw-1"));
        Assert.True(bench.Poller.IsAway);
    }

    [Fact]
    public async Task AtADevice_TheConnectionStays_AndOneThatGoesIsNotAskedAnyMore()
    {
        await using var device = new RegisterDevice();
        device.Set(0, 1500, 30);
        await using var bench = new PollerBench(device.Port, 1, TimeSpan.FromMinutes(5));
        ISawSource source = bench.Poller;
        await bench.PassUntilAsync(() => bench.Good(1) >= 5, "it is polled");
        var inbox = new SawInbox("saw-2");
        await source.AddAsync(PollerBench.Saw(2), inbox, CancellationToken.None);
        await bench.PassUntilAsync(() => inbox.Offered >= 5, "the second is polled");
        Assert.All(inbox.Drain(), frame => Assert.Equal(1500, frame.Number(Signal.HeadPosition)));
        await source.RemoveAsync("saw-2", CancellationToken.None);
        Assert.True(inbox.Frames.Completion.IsCompleted);
        var (asked, then) = (device.Requests.Count(request => request.Unit == 2), bench.Good(1));
        await bench.PassUntilAsync(() => bench.Good(1) >= then + 5, "the first goes on");
        Assert.Equal((asked, 1), (device.Requests.Count(request => request.Unit == 2), device.Connections));
        Assert.DoesNotContain(bench.Of(1), frame => !frame.Has(Signal.HeadPosition));
    }

    // As of a saw that is added when the device has been polled for an hour.
    [Fact]
    public void AScheduleThatBeginsLate_HasMissedNothing()
    {
        var schedule = new PollSchedule(TimeSpan.FromMilliseconds(100), TimeSpan.FromHours(1));
        Assert.Equal(TimeSpan.FromHours(1), schedule.Due);
        Assert.Equal(0, schedule.Advance(TimeSpan.FromHours(1) + TimeSpan.FromMilliseconds(10)));
        Assert.Equal(TimeSpan.FromHours(1) + TimeSpan.FromMilliseconds(100), schedule.Due);
    }

    private static MqttSourceOptions Templated(string saw) => Published.Json($"hall/{saw}/frame", time: null) with { FrameTemplate = "hall/{saw}/frame" };
}
