using System.Globalization;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Hosting;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Hosting;

/// <summary>When a loop hangs, and that the service manager hears of a gateway only while none does.</summary>
public sealed class LoopWatchTests
{
    private static readonly TimeSpan Long = LoopWatch.Patience + TimeSpan.FromSeconds(1);

    private readonly FakeTimeProvider _time = new();

    [Fact]
    public void Look_LoopWithoutWork_NeverHangs()
    {
        var watch = new LoopWatch(_time);
        watch.Add("idle", () => new LoopState(7, HasWork: false));
        _time.Advance(Long);
        Assert.Null(watch.Look());
    }

    [Fact]
    public void Look_WorkWaitsAndNothingGetsDone_HangsAfterThePatience_AndNotBefore()
    {
        var watch = new LoopWatch(_time);
        var turns = 1L;
        watch.Add("saw", () => new LoopState(turns, HasWork: true));
        _time.Advance(LoopWatch.Patience);
        Assert.Null(watch.Look());
        _time.Advance(TimeSpan.FromSeconds(1));
        Assert.Equal("saw", watch.Look());
        Assert.Equal("saw", watch.Hanging);

        turns++;
        Assert.Null(watch.Look());
        Assert.Null(watch.Hanging);
    }

    [Fact]
    public void Look_WorkThatCameJustNow_HasItsPatience()
    {
        var watch = new LoopWatch(_time);
        var waits = false;
        watch.Add("saw", () => new LoopState(1, waits));
        _time.Advance(Long);
        Assert.Null(watch.Look());
        waits = true;
        _time.Advance(TimeSpan.FromSeconds(5));
        Assert.Null(watch.Look());
        _time.Advance(Long);
        Assert.Equal("saw", watch.Look());
    }

    [Fact]
    public async Task Watchdog_IsFedWhileLoopsTurn_AndNotWhileOneHangs()
    {
        var watch = new LoopWatch(_time);
        var turns = 1L;
        watch.Add("saw", () => new LoopState(turns, HasWork: true));
        var notifier = new Heard();
        using var stop = new CancellationTokenSource();
        var watchdog = new ServiceWatchdog(watch, notifier, _time, NullLogger.Instance, ServiceWatchdog.Asked("90000000", null)).RunAsync(stop.Token);
        await Until.TrueAsync(() => notifier.Count == 1, "it says at once that it lives");

        // Each step is waited for, so that none is drawn together with the next.
        for (var step = 2; step <= 10; step++)
        {
            turns++;
            _time.Advance(TimeSpan.FromSeconds(5));
            await Until.TrueAsync(() => notifier.Count == step, "it says that it lives");
        }

        for (var second = 0; second <= Long.TotalSeconds; second += 5)
            _time.Advance(TimeSpan.FromSeconds(5));
        await Until.TrueAsync(() => watch.Hanging == "saw", "the loop is known to hang");
        var count = notifier.Count;
        _time.Advance(TimeSpan.FromSeconds(5));
        turns++;
        _time.Advance(TimeSpan.FromSeconds(5));
        await Until.TrueAsync(() => watch.Hanging is null && notifier.Count > count, "it goes on");
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => watchdog);
    }

    [Theory]
    [InlineData(null, null, null)]
    [InlineData("", null, null)]
    [InlineData("soon", null, null)]
    [InlineData("-5", null, null)]
    [InlineData("90000000", null, 90.0)]
    [InlineData("90000000", "", 90.0)]
    [InlineData("90000000", "self", 90.0)]
    [InlineData("90000000", "1", null)]
    public void Asked_AsTheServiceManagerStatesIt(string? microseconds, string? process, double? seconds)
    {
        if (process == "self")
            process = Environment.ProcessId.ToString(CultureInfo.InvariantCulture);
        Assert.Equal(seconds, ServiceWatchdog.Asked(microseconds, process)?.TotalSeconds);
    }

    private sealed class Heard : ISystemdNotifier
    {
        private int _count;

        public int Count => Volatile.Read(ref _count);

        public bool IsEnabled => true;

        public void Notify(ServiceState state)
        {
            Assert.Equal("WATCHDOG=1", state.ToString());
            Interlocked.Increment(ref _count);
        }
    }
}
