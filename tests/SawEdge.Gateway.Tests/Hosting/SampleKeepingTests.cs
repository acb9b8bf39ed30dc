using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

public sealed class SampleKeepingTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);

    [Fact]
    public async Task Run_AsTimePasses_DeletesWhatIsTooOldAndNothingElse()
    {
        await using var history = new RunningHistory();
        await history.AppendAsync(Cycles.Make("Saw 1", 0));
        var figures = new SignalFigures[SignalSample.Signals.Count];
        await history.Writer.SaveSamplesAsync([.. Enumerable.Range(0, 3000).Select(n => new SawSample("Saw 1", new SignalSample(Begin.AddSeconds(n * 10), TimeSpan.FromSeconds(10), 1, figures)))], CancellationToken.None);
        var time = new FakeTimeProvider(Begin.AddHours(2).AddSeconds(3));
        using var stop = new CancellationTokenSource();
        var running = new SampleKeeping(history.Writer, TimeSpan.FromHours(1), time, history.Log.For<SampleKeeping>()).RunAsync(stop.Token);

        await Until.TrueAsync(async () => await CountAsync(history) == 3000 - 361, "an hour and what began is gone");
        time.Advance(TimeSpan.FromHours(5));
        await Until.TrueAsync(async () => await CountAsync(history) == 3000 - (6 * 360) - 1, "five more hours are gone");
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => running);
        Assert.Equal(1, await history.Reader.CountAsync(CycleFilter.All));
        Assert.Empty(history.Log.Entries);
    }

    [Fact]
    public async Task Look_MuchToDelete_LetsOthersWriteInBetween()
    {
        await using var history = new RunningHistory();
        var figures = new SignalFigures[SignalSample.Signals.Count];
        await history.Writer.SaveSamplesAsync([.. Enumerable.Range(0, 40_000).Select(n => new SawSample("Saw 1", new SignalSample(Begin.AddSeconds(n), TimeSpan.FromSeconds(1), 1, figures)))], CancellationToken.None);
        var keeping = new SampleKeeping(history.Writer, TimeSpan.FromHours(1), new FakeTimeProvider(Begin.AddDays(2)), history.Log.For<SampleKeeping>());

        var looking = keeping.LookAsync(CancellationToken.None);
        await history.AppendAsync(Cycles.Make("Saw 1", 0));
        var left = await CountAsync(history);

        Assert.Equal(40_000, await looking);
        Assert.Equal(0, await CountAsync(history));
        Assert.True(left > 0, "the cycle waited until all was deleted");
    }

    [Fact]
    public async Task Run_AHistoryThatIsClosed_IsSaidOnce()
    {
        var history = new RunningHistory();
        await history.DisposeAsync();
        var time = new FakeTimeProvider(Begin);
        using var stop = new CancellationTokenSource();
        var running = new SampleKeeping(history.Writer, TimeSpan.FromHours(1), time, history.Log.For<SampleKeeping>()).RunAsync(stop.Token);
        await Until.TrueAsync(() => history.Log.Entries.Count > 0, "it says so");
        time.Advance(TimeSpan.FromMinutes(1));
        time.Advance(TimeSpan.FromMinutes(1));
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => running);

        Assert.Contains("old signals cannot be cleared away at the moment", Assert.Single(history.Log.Entries).Text, StringComparison.Ordinal);
    }

    private static Task<long> CountAsync(RunningHistory history) => history.Reader.CountSamplesAsync(SampleFilter.All);
}
