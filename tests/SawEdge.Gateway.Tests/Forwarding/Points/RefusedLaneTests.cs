using SawEdge.Core.Signals;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Forwarding.Points;

/// <summary>What a server refused of profiles, signals and health is listed with what it is, and sent again or dropped by its lane.</summary>
public sealed class RefusedLaneTests
{
    [Fact]
    public async Task Refusals_OfEachLane_SayWhatTheyAre_AndAreSentAgain()
    {
        await using var history = new RunningHistory();
        history.Writer.SamplesAreWanted = true;
        await history.Writer.AppendAsync(new FinishedCycle { Record = Cycles.Make("saw 1", 7), Profile = Cycles.Profile(1) }, CancellationToken.None);
        var sample = new SignalSample(Cycles.Start, TimeSpan.FromSeconds(10), 5, new SignalFigures[SignalSample.Signals.Count]);
        await history.Writer.SaveSamplesAsync([new SawSample("saw 2", sample)], CancellationToken.None);
        await history.Writer.SaveHealthAsync(Health.Full(), CancellationToken.None);
        foreach (var lane in (string[])[Lanes.Profiles, Lanes.Signals, Lanes.Gateway])
            await history.Writer.SaveCursorAsync("influx" + lane, 1, [new Refusal(1, $"no {lane}")], CancellationToken.None);

        var refused = (await history.Reader.RefusalsAsync("influx")).ToDictionary(refusal => refusal.Consumer);
        Assert.Equal(["influx/gateway", "influx/profiles", "influx/signals"], refused.Keys.Order());
        Assert.Equal("saw 1-000007", refused["influx/profiles"].CycleId);
        Assert.Equal(("saw 2", Cycles.Start), (refused["influx/signals"].Saw, refused["influx/signals"].From));
        Assert.Equal(Cycles.Start, refused["influx/gateway"].From);
        Assert.Equal(3, await history.Reader.CountRefusedAsync("influx", Cycles.Start.AddYears(-1)));

        foreach (var lane in refused.Keys)
            RefusedRows.Retry(history.Folder, lane, [1], Cycles.Start);
        Assert.Empty(await history.Reader.RefusalsAsync("influx"));
        Assert.Equal("saw 1-000007", Assert.Single(await history.Reader.JournalProfilesAsync(1, 10)).Cycle?.CycleId);
        Assert.Equal("saw 2", Assert.Single(await history.Reader.SamplesAfterAsync(1, 10)).Stored.Saw);
        Assert.Equal(Cycles.Start, Assert.Single(await history.Reader.HealthAfterAsync(1, 10)).Report.At);
    }
}
