using Microsoft.Extensions.Time.Testing;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>What the gateway says of itself.</summary>
public sealed class HealthWatchTests
{
    private readonly FakeTimeProvider _time = new(Cycles.Start);

    [Fact]
    public async Task Look_CountsSinceTheLookBefore_AndSeesWhatWaits()
    {
        await using var history = new RunningHistory();
        using var watched = new Watched(history, _time);
        Assert.Equal(0, (await watched.Watch.LookAsync(CancellationToken.None)).Saws[0].Frames);

        _time.Advance(TimeSpan.FromSeconds(60));
        watched.Offer(30);
        watched.Finished += 2;
        await history.AppendAsync(Cycles.Make("saw 1", 0));
        await history.Writer.SaveCursorAsync("influx", 0, [new Refusal(1, "no")], CancellationToken.None);
        var first = await watched.Watch.LookAsync(CancellationToken.None);
        Assert.Equal((60, 30, 22, 8, 2), (first.IntervalS, first.Saws[0].Frames, first.Saws[0].Lost, first.Saws[0].Waiting, first.Saws[0].Cycles));
        Assert.Equal((Cycles.Start.AddSeconds(60), 60), (first.At, first.UptimeS));
        Assert.Null(first.Saws[0].Missed);
        Assert.True(first is { MemoryBytes: > 1_000_000, HeapBytes: > 100_000, HistoryBytes: > 4096, DiskFreeBytes: > 0, BudgetShare: 0.25, JournalEnd: 1 });
        var destination = Assert.Single(first.Destinations);

        // One cycle waits twice: its record, and its profile.
        Assert.Equal(("influx", 2L, 1L, 0L, (bool?)null), (destination.Destination, destination.Waiting, destination.SetAside, destination.Gone, destination.InTrouble));

        _time.Advance(TimeSpan.FromSeconds(30));
        watched.Offer(5);
        await history.Writer.SaveCursorAsync("influx", 1, [], CancellationToken.None);
        await history.Writer.SaveCursorAsync("influx/profiles", 1, [], CancellationToken.None);
        var second = await watched.Watch.LookAsync(CancellationToken.None);
        Assert.Equal((30, 5, 0), (second.IntervalS, second.Saws[0].Frames, second.Saws[0].Cycles));
        Assert.Equal((0L, 0.0), (second.Destinations[0].Waiting, second.Destinations[0].LagS));
    }

    [Fact]
    public async Task Run_LooksSoonAfterTheStart_ThenEveryMinute_AndStoresIt()
    {
        await using var history = new RunningHistory();
        using var watched = new Watched(history, _time);
        using var stop = new CancellationTokenSource();
        var run = watched.Watch.RunAsync(stop.Token);
        foreach (var (after, count) in ((int, int)[])[(10, 1), (60, 2), (60, 3)])
        {
            _time.Advance(TimeSpan.FromSeconds(after));
            await Until.TrueAsync(async () => (await history.Reader.HealthAfterAsync(0, 10)).Count == count, $"there are {count} reports");
        }

        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
        var reports = await history.Reader.HealthAfterAsync(0, 10);
        Assert.Equal([10, 70, 130], reports.Select(stored => (stored.Report.At - Cycles.Start).TotalSeconds));
        Assert.Equal([10, 60, 60], reports.Select(stored => stored.Report.IntervalS));
    }

    [Fact]
    public async Task Run_AHistoryThatIsClosed_IsSaidOnce()
    {
        var history = new RunningHistory();
        using var watched = new Watched(history, _time);
        await history.DisposeAsync();
        using var stop = new CancellationTokenSource();
        var run = watched.Watch.RunAsync(stop.Token);
        _time.Advance(TimeSpan.FromSeconds(10));
        await Until.TrueAsync(() => history.Log.Entries.Count > 0, "it says so");
        _time.Advance(TimeSpan.FromMinutes(1));
        _time.Advance(TimeSpan.FromMinutes(1));
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => run);
        Assert.Equal(3536, Assert.Single(history.Log.Entries).Id);
    }

    private sealed class Watched : IDisposable
    {
        private readonly SawInbox _inbox;
        private readonly Destination _destination;

        public Watched(RunningHistory history, TimeProvider time)
        {
            var options = Sample.Load(Sample.With()).Options();
            var saw = options.Saws[0].Name;
            options = options with { DataFolder = history.Folder, Saws = [options.Saws[0]] };
            var presence = new SawPresence(saw, [Signal.MotorLoad], TimeSpan.FromMilliseconds(100), time);
            _inbox = new SawInbox(saw, capacity: 8, presence);
            _destination = new Destination(new InfluxOptions { Name = "influx", Url = new Uri("http://127.0.0.1:1"), Bucket = "saws" }, time, history.Log.For<Destination>());
            Watch = new HealthWatch(options, history.Reader, history.Writer, new GatewayClocks(time, time), history.Log.For<HealthWatch>())
            {
                Saws = () => [new SawFeed(_inbox, presence, null)],
                CyclesOf = _ => Finished,
                BudgetShare = () => 0.25,
                Lanes = [.. DestinationLanes.Of(_destination, "North plant", "gateway1", history.Reader, history.Writer, new StopNames(history.Reader, history.Writer))],
            };
        }

        public HealthWatch Watch { get; }

        public long Finished { get; set; }

        public void Offer(int count)
        {
            for (var i = 0; i < count; i++)
            {
                var frame = new SignalFrame(Cycles.Start.AddMilliseconds(i));
                frame.Set(Signal.MotorLoad, 2.5);
                _inbox.Offer(frame);
            }
        }

        public void Dispose() => _destination.Dispose();
    }
}
