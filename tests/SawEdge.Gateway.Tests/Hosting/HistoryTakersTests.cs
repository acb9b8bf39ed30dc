using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>What a destination is still to get stays past its time; only the budget takes it, and that is said and counted.</summary>
public sealed class HistoryTakersTests
{
    private static readonly DateTimeOffset Begin = Cycles.Start;

    [Fact]
    public void Of_AConfiguration_AreTheDestinationsThatWantIt()
    {
        var takers = HistoryTakers.Of([Destination("a", PointChoice.Usual), Destination("b", PointChoice.Signals), Destination("c", PointChoice.Cycles)]);
        Assert.Equal(["b/signals"], takers.Samples.Consumers);
        Assert.Equal(["a/gateway"], takers.Health.Consumers);
        Assert.Equal(["a/profiles"], takers.Profiles);
        Assert.False(takers.Samples.GiveUp);
    }

    [Fact]
    public async Task Look_PastTheirTime_WaitsForWhoeverIsStillToGetThem()
    {
        await using var history = new RunningHistory();
        await FillAsync(history);
        var time = new FakeTimeProvider(Begin.AddDays(60));
        var takers = HistoryTakers.Of([Destination("one", PointChoice.Usual | PointChoice.Signals)]);
        var keeping = new HistoryKeeping(history.Writer, history.Reader, TimeSpan.FromDays(1), new HistoryOptions { KeepProfiles = TimeSpan.FromDays(1) }, takers, time, history.Log.For<HistoryKeeping>());

        await keeping.LookAsync(CancellationToken.None);
        Assert.Equal((1000, 100, 300), Counts(history));

        // Some of it is delivered.
        await history.Writer.SaveCursorAsync("one/signals", 1000, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("one/gateway", 40, [], CancellationToken.None);
        await keeping.LookAsync(CancellationToken.None);
        Assert.Equal((0, 60, 300), Counts(history));

        await history.Writer.SaveCursorAsync("one/profiles", 300, [], CancellationToken.None);
        await keeping.LookAsync(CancellationToken.None);
        Assert.Equal((0, 60, 50), Counts(history));
        Assert.Empty(history.Log.Entries);
        Assert.Empty(await history.Reader.GoneAsync());
    }

    [Fact]
    public async Task Look_BudgetReached_TakesItAllTheSame_AndSaysWhoDoesNotGetWhat()
    {
        await using var history = new RunningHistory();
        await FillAsync(history);
        await history.Writer.SaveCursorAsync("near/signals", 1000, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("near/gateway", 100, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("near/profiles", 300, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("far/signals", 400, [], CancellationToken.None);
        var all = PointChoice.Usual | PointChoice.Signals;
        var keeping = new HistoryKeeping(history.Writer, history.Reader, TimeSpan.FromDays(900), new HistoryOptions { BudgetBytes = 100_000 }, HistoryTakers.Of([Destination("near", all), Destination("far", all)]), new FakeTimeProvider(Begin.AddDays(60)), history.Log.For<HistoryKeeping>());

        await keeping.LookAsync(CancellationToken.None);

        Assert.Equal((0, 0, 50), Counts(history));
        var gone = await history.Reader.GoneAsync();
        Assert.Equal([("far/gateway", 100L), ("far/signals", 600L)], gone.OrderBy(one => one.Key).Select(one => (one.Key, one.Value)));
        var said = history.Log.Entries.Where(entry => entry.Id is 3534 or 3535).ToList();
        Assert.Equal([3534, 3534, 3535], said.Select(entry => entry.Id).Order());
        Assert.All(said, entry => Assert.Contains("'far/", entry.Text, StringComparison.Ordinal));
    }

    private static InfluxOptions Destination(string name, PointChoice points) => new() { Name = name, Url = new Uri("http://127.0.0.1:8086"), Bucket = "saws", Points = points };

    private static (long Samples, long Reports, long Profiles) Counts(RunningHistory history) =>
        ((long)history.Ask("SELECT count(*) FROM signal_samples")!, (long)history.Ask("SELECT count(*) FROM health_reports")!, (long)history.Ask("SELECT count(*) FROM profiles")!);

    // 1,000 samples, 100 reports, and 300 cycles with a checkpoint every 50.
    private static async Task FillAsync(RunningHistory history)
    {
        history.Writer.SamplesAreWanted = true;
        var figures = new SignalFigures[SignalSample.Signals.Count];
        figures[1] = new SignalFigures(100, 2.5f, 0, 5, 1);
        await history.Writer.SaveSamplesAsync([.. Enumerable.Range(0, 1000).Select(i => new SawSample("saw 1", new SignalSample(Begin.AddSeconds(10 * i), TimeSpan.FromSeconds(10), 100, figures)))], CancellationToken.None);
        for (var minute = 0; minute < 100; minute++)
            await history.Writer.SaveHealthAsync(new HealthReport(Begin.AddMinutes(minute), 60), CancellationToken.None);
        for (var i = 0; i < 300; i++)
        {
            var row = Evidences.Row(Cycles.Make("saw 1", i), i);
            await history.Writer.AppendAsync(i % 50 == 49 ? row with { Checkpoint = new StoredCheckpoint(row.Record.StartedAt, new SawState(1, new byte[10])) } : row, CancellationToken.None);
        }
    }
}
