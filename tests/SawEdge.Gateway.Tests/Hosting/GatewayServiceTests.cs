using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>The whole gateway in this process, in front of a virtual saw whose time runs fast.</summary>
public sealed class GatewayServiceTests : GatewayServiceSetup
{
    private const int SlowPolls = 2107;
    private const int CountedUnseen = 3016;
    private const int Starting = 3500;
    private const int Stopped = 3501;
    private const int LoopEnded = 3502;

    [Fact]
    public async Task LoopEndsByItself_TheGatewayStops_SaysWhichAndWhyOnce_AndHasFailed()
    {
        using var service = Service(_ => throw new InvalidTimeZoneException("made up for this test"));
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => HostLifetime.ApplicationStopping.IsCancellationRequested, "the process is asked to stop");
        await service.StopAsync(CancellationToken.None);

        Assert.IsType<InvalidTimeZoneException>(service.Failure);
        var said = Assert.Single(Log.Entries, entry => entry.Level >= LogLevel.Error);
        Assert.Equal((LoopEnded, LogLevel.Critical, "processing of saw-1 ended unexpectedly; the gateway stops so that the service manager can start it anew"), said);
        Assert.DoesNotContain(Log.Entries, entry => entry.Id == Stopped);

        // What was acknowledged before is there, and the folder is free for the next start.
        using var database = Gateway.History.HistoryDatabase.Open(Folder.File("data"));
        Assert.Equal(1, await new Gateway.History.HistoryReader(database).CountAsync(Gateway.History.CycleFilter.All));
    }

    [Fact]
    public async Task Stopped_EndsWithoutFailure_AndSaysThatEverythingIsStored()
    {
        var finished = 0;
        using var service = Service(_ => Interlocked.Increment(ref finished));
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => Volatile.Read(ref finished) > 0, "a cut is finished");
        await service.StopAsync(CancellationToken.None);

        Assert.Null(service.Failure);
        Assert.False(HostLifetime.ApplicationStopping.IsCancellationRequested);
        Assert.Equal((Stopped, LogLevel.Information, "stopped; everything seen is in the history"), Log.Entries[^1]);
        Assert.DoesNotContain(Log.Entries, entry => entry.Level > LogLevel.Information);
    }

    // The service manager does not wait with a stop until the gateway has begun.
    [Fact]
    public async Task StoppedWhileItStarts_EndsWithoutFailure()
    {
        using var stop = new CancellationTokenSource();
        Log.OnEntry = id =>
        {
            if (id == Starting)
                stop.Cancel();
        };
        using var service = Service(null);
        await service.StartAsync(stop.Token);
        await Until.TrueAsync(() => service.ExecuteTask!.IsCompleted, "it ends");

        Assert.Null(service.Failure);
        Assert.Equal([Starting, Stopped], Log.Entries.Select(entry => entry.Id));
    }

    [Fact]
    public async Task EntryAboutABlade_MadeFromOutside_IsTakenOverWithoutARestart()
    {
        var finished = 0;
        using var service = Service(_ => Interlocked.Increment(ref finished));
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => Volatile.Read(ref finished) > 0, "a cut is finished");
        Gateway.History.BladeEntryRows.Write(Folder.File("data"), [], [new Core.Blades.BladeEntry(0, "saw-1", Start, Core.Blades.BladeEntryKind.Change, "B-1")], Start);
        await Until.TrueAsync(() => Log.Entries.Any(entry => entry.Id == 3007), "records are computed anew");
        var then = Volatile.Read(ref finished);
        await Until.TrueAsync(() => Volatile.Read(ref finished) > then, "the saw goes on");
        await service.StopAsync(CancellationToken.None);

        Assert.Null(service.Failure);
        Assert.Contains("entries about blades from 2026-03-02 06:00Z on", Assert.Single(Log.Entries, entry => entry.Id == 3007).Text, StringComparison.Ordinal);

        // How fast this machine can poll while others work on it, and what it misses meanwhile, is another matter.
        Assert.DoesNotContain(Log.Entries, entry => entry.Level > LogLevel.Information && entry.Id is not (SlowPolls or CountedUnseen));
    }

    // No room at all: the budget is less than an empty history takes.
    [Fact]
    public async Task BudgetOfTheHistoryReached_IsAnAlarm_AndCutsAreStoredAllTheSame()
    {
        var (raised, finished) = (new System.Collections.Concurrent.ConcurrentQueue<AlarmEvent>(), 0);
        var rules = DefaultRules.All.Where(rule => rule.Variable.Name == "history_budget").Select(rule => rule with { OnDelay = TimeSpan.Zero });
        using var service = Service(_ => Interlocked.Increment(ref finished), raised.Enqueue, options => options with { History = new HistoryOptions { BudgetBytes = 100_000 }, Alarms = new AlarmOptions { Rules = [.. rules] } });
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => raised.Count >= 2 && Volatile.Read(ref finished) > 0, "both rules are raised and a cut is finished");
        await service.StopAsync(CancellationToken.None);

        Assert.Null(service.Failure);
        Assert.Equal(["history_budget", "history_full"], raised.Select(happened => happened.Rule).Order(StringComparer.Ordinal));
        Assert.All(raised, happened => Assert.Equal("gateway hall-1", happened.Subject.ToString()));
        Assert.Matches(@"^gateway hall-1: the history takes [0-9.]{3,6} % of its budget[.] When it is full", raised.First(happened => happened.Rule == "history_budget").Alarm!.Text);
        Assert.Equal(3531, Assert.Single(Log.Entries, entry => entry.Id is >= 3530 and <= 3539).Id);
        using var database = Gateway.History.HistoryDatabase.Open(Folder.File("data"));
        Assert.Equal(finished, await new Gateway.History.HistoryReader(database).CountAsync(Gateway.History.CycleFilter.All));
    }

    [Fact]
    public async Task FolderInUse_IsOneMessageWithoutAStackTrace_AndAFailure()
    {
        using var owner = Gateway.History.HistoryDatabase.Open(Folder.File("data"));
        using var service = Service(null);
        await service.StartAsync(CancellationToken.None);
        await Until.TrueAsync(() => HostLifetime.ApplicationStopping.IsCancellationRequested, "the process is asked to stop");
        await service.StopAsync(CancellationToken.None);

        Assert.IsType<Gateway.History.HistoryInUseException>(service.Failure);
        Assert.Equal((3508, LogLevel.Critical, service.Failure.Message), Assert.Single(Log.Entries));
        Assert.Equal(0, Device.Requests);
    }
}
