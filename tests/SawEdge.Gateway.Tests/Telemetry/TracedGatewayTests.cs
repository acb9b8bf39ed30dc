using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Telemetry;
using SawEdge.Gateway.Tests.Forwarding;
using SawEdge.Gateway.Tests.Hosting;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Telemetry;

/// <summary>The whole gateway in front of a virtual saw, a real receiver beside it.</summary>
[Collection(nameof(Tracing))]
public sealed class TracedGatewayTests : GatewayServiceSetup
{
    [Fact]
    public async Task Gateway_TellsEveryKnownFigure_AndTracesItsStart_CyclesAndDeliveries()
    {
        await using var receiver = await OtlpReceiver.StartAsync();
        await using var influx = new StrictServer();
        using var service = Service(null, change: options => options with
        {
            Telemetry = new TelemetryOptions { Otlp = new OtlpOptions { Endpoint = receiver.Url, Every = TimeSpan.FromMilliseconds(250) } },
            Influx = [new InfluxOptions { Name = "plant", Url = influx.Url, Organization = "plant", Bucket = "cuts", Token = influx.Token, MaximumWait = TimeSpan.FromMilliseconds(10) }],
        });
        await service.StartAsync(CancellationToken.None);

        // What tells of a second gateway for the same saws is told only where there is one.
        var known = KnownMetrics.All.Except([KnownMetrics.Watching, KnownMetrics.CyclesLeftOut]).Select(info => info.OtlpName).ToHashSet();
        await Until.TrueAsync(
            () => known.IsSubsetOf(receiver.Values.Select(value => value.Name)) && receiver.Spans.Any(span => span.Name == "cycle") && receiver.Spans.Any(span => span.Name == "deliver"),
            () => $"missing: {string.Join(", ", known.Except(receiver.Values.Select(value => value.Name)))}; spans: {string.Join(", ", receiver.Spans.Select(span => span.Name).Distinct())}; {string.Join('\n', Log.Entries)}");
        await service.StopAsync(CancellationToken.None);
        Assert.Null(service.Failure);

        // Besides what /metrics tells: how late each poll began.
        Assert.Equal(["poll.duration", "poll.lateness"], receiver.Values.Select(value => value.Name).Where(name => name != "poll.missed").Distinct().Except(known).Order(StringComparer.Ordinal));
        Assert.All(receiver.Values.Where(value => value.Name == "sawedge.polls"), value => Assert.Equal("saw-1", value.Attributes["saw"]));
        Assert.True(receiver.Values.Last(value => value.Name == "sawedge.polls").Value > 10);
        Assert.True(receiver.Values.Last(value => value.Name == "sawedge.delivery_points").Value > 0);

        var start = Assert.Single(receiver.Spans, span => span.Name == "start");
        var restore = Assert.Single(receiver.Spans, span => span.Name == "restore");
        Assert.Equal((start.Id, "saw-1"), (restore.Parent, restore.Attributes["sawedge.saw"]));
        var cycle = receiver.Spans.First(span => span.Name == "cycle");
        Assert.Equal(("", "saw-1"), (cycle.Parent, cycle.Attributes["sawedge.saw"]));
        Assert.Equal(["found"], cycle.Events);
        Assert.Contains(receiver.Spans, span => span.Name == "deliver" && span.Parent.Length == 0 && span.Attributes["http.response.status_code"] == "204");

        // One a cycle, and never one a frame.
        Assert.InRange(receiver.Spans.Count(span => span.Name == "cycle"), 1, Finished + 1);
        Assert.Equal(["cycle", "deliver", "restore", "start"], receiver.Spans.Select(span => span.Name).Distinct().Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task ReceiverThatIsAway_DisturbsNothing_AndIsSaidOnceForEachWay()
    {
        using var service = Service(null, change: options => options with
        {
            Telemetry = new TelemetryOptions { Otlp = new OtlpOptions { Endpoint = new Uri($"http://127.0.0.1:{Peer.FreePort()}"), Every = TimeSpan.FromMilliseconds(50) } },
        });
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => Finished > 1, "cuts are finished");
        await Until.TrueAsync(() => Log.Entries.Count(entry => entry.Id == 9501) == 2, () => string.Join('\n', Log.Entries));
        await service.StopAsync(CancellationToken.None);

        Assert.Null(service.Failure);
        Assert.Equal(["metrics", "traces"], Log.Entries.Where(entry => entry.Id == 9501).Select(entry => entry.Text.Split("take ")[1].Split(':')[0]).Order(StringComparer.Ordinal));
    }
}
