using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

public sealed class DeliveryStandingsTests
{
    [Fact]
    public async Task Figures_SayWhatWaitsForEachDestination_SinceWhen_WhatIsSetAside_AndWhatTheHistoryTakes()
    {
        await using var history = new RunningHistory();
        for (var i = 0; i < 5; i++)
            await history.AppendAsync(Cycles.Make("saw0", i));
        await history.Writer.SaveCursorAsync("one", 3, [new Refusal(2, "no")], CancellationToken.None);
        await history.Writer.SaveCursorAsync("one/oee", 0, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("one/profiles", 4, [], CancellationToken.None);
        await history.Writer.CountGoneAsync("one/profiles", [2, 3], CancellationToken.None);
        await history.Writer.SaveCursorAsync("two", 5, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("two/profiles", 5, [], CancellationToken.None);
        var time = new FakeTimeProvider(DateTimeOffset.UtcNow.AddHours(2));
        using var one = Make("one", time);
        using var two = Make("two", time);
        var standings = new DeliveryStandings(history.Reader, [Lane(one), new HoursLane(one, "North plant", "gateway1", history.Reader, history.Writer, new StopNames(history.Reader, history.Writer)), Profiles(one), Lane(two), Profiles(two)], time, history.Log.For<DeliveryStandings>());
        var keeping = new HistoryKeeping(history.Writer, history.Reader, TimeSpan.FromDays(14), new HistoryOptions(), HistoryTakers.None, time, history.Log.For<HistoryKeeping>());
        Assert.Empty(standings.All);
        ProfileLane Profiles(Destination destination) => new(destination, "North plant", "gateway1", history.Reader, history.Writer);
        JournalLane Lane(Destination destination) => new(destination, "North plant", "gateway1", history.Reader, history.Writer);
        using var stop = new CancellationTokenSource();
        var run = standings.RunAsync(stop.Token);
        await Until.TrueAsync(() => standings.All.Count == 2, "both are counted");
        await keeping.LookAsync(CancellationToken.None);

        var metrics = new GatewayFigures { Standings = standings, Keeping = keeping, Writer = history.Writer }.Read(5).ToList();
        double Of(string name, string? consumer = null) => Assert.Single(metrics, metric => metric.Name == name && (consumer is null || metric.Labels.Contains(("consumer", consumer)))).Value;
        Assert.Equal((2, 0), (Of("sawedge_delivery_gone", "one"), Of("sawedge_delivery_gone", "two")));

        // Two cycles, and the profile of one.
        Assert.Equal((3, 0), (Of("sawedge_delivery_waiting_entries", "one"), Of("sawedge_delivery_waiting_entries", "two")));
        Assert.InRange(Of("sawedge_delivery_lag_seconds", "one"), 7190, 7300);
        Assert.Equal(0, Of("sawedge_delivery_lag_seconds", "two"));
        Assert.Equal((1, 0), (Of("sawedge_delivery_set_aside", "one"), Of("sawedge_delivery_set_aside", "two")));
        Assert.Equal(new FileInfo(history.FilePath).Length, Of("sawedge_history_bytes"));
        Assert.Equal(new FileInfo(history.FilePath + "-wal").Length, Of("sawedge_history_wal_bytes"));
        Assert.Equal(new HistoryOptions().BudgetBytes, Of("sawedge_history_budget_bytes"));

        // What is delivered meanwhile is counted at the next look.
        await history.Writer.SaveCursorAsync("one", 5, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("one/profiles", 5, [], CancellationToken.None);
        await Until.TrueAsync(
            () =>
            {
                time.Advance(TimeSpan.FromSeconds(10));
                return standings.All["one"].Waiting == 0;
            },
            "it is counted again");
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
    }

    private static Destination Make(string name, TimeProvider time) =>
        new(new InfluxOptions { Name = name, Url = new Uri("http://127.0.0.1:1"), Bucket = "saws" }, time, Microsoft.Extensions.Logging.Abstractions.NullLogger<Destination>.Instance);
}
