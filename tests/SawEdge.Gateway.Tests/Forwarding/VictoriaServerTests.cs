using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>The v2 write path, unmapped, into an independent server that speaks it.</summary>
public sealed class VictoriaServerTests
{
    [PeerFact(VictoriaServer.Program)]
    public async Task Cycles_ArriveOnTheV2Path()
    {
        await using var server = await VictoriaServer.StartAsync();
        await using var history = new RunningHistory();
        await Task.WhenAll(Enumerable.Range(0, 300).Select(i => history.AppendAsync(Cycles.Make("saw " + (i % 3), i) with { CutTimeS = 60 + (0.1 * i) })));
        await using var forwarder = new RunningForwarder(history, new InfluxOptions { Name = "v2", Url = server.Url, Organization = "plant", Bucket = "cuts", Token = "any", BatchSize = 100, MaximumWait = TimeSpan.FromMilliseconds(50) });

        await forwarder.ReachesAsync(300);

        var series = await server.ExportAsync("cycle_cut_time_s");
        Assert.Equal(["saw 0", "saw 1", "saw 2"], series.Select(one => one.Labels["saw"]).Order());
        Assert.All(series, one => Assert.Equal(("North plant", "gateway1"), (one.Labels["site"], one.Labels["gateway"])));
        var expected = Enumerable.Range(0, 300).Select(i => (Cycles.Make("", i).StartedAt.ToUnixTimeMilliseconds(), 60 + (0.1 * i))).ToList();
        var found = series.SelectMany(one => one.Samples).OrderBy(sample => sample.Time).ToList();
        Assert.Equal(expected.Select(pair => pair.Item1), found.Select(sample => sample.Time));
        Assert.All(expected.Zip(found), pair => Assert.Equal(pair.First.Item2, pair.Second.Value, 9));
    }
}
