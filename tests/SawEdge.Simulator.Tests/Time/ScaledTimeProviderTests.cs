using Microsoft.Extensions.Time.Testing;
using SawEdge.Simulator.Time;
using SawEdge.TestSupport;

namespace SawEdge.Simulator.Tests.Time;

public sealed class ScaledTimeProviderTests
{
    private static readonly TimeSpan Ms = TimeSpan.FromMilliseconds(1);

    [Fact]
    public void GetUtcNow_AndTimestamp_RunTheFactorFaster()
    {
        var inner = new FakeTimeProvider();
        var clock = new ScaledTimeProvider(inner, 20, Make.Start);
        var stamp = clock.GetTimestamp();
        inner.Advance(TimeSpan.FromSeconds(3));
        Assert.Equal(Make.Start.AddMinutes(1), clock.GetUtcNow());
        Assert.Equal(TimeSpan.FromMinutes(1), clock.GetElapsedTime(stamp));
    }

    [Fact]
    public void GetUtcNow_TimeOfDayIsSetBack_GoesOn()
    {
        var inner = new FakeTimeProvider(Make.Start) { AutoAdvanceAmount = TimeSpan.Zero };
        var clock = new ScaledTimeProvider(new SetBack(inner), 2, Make.Start);
        inner.Advance(TimeSpan.FromSeconds(10));
        Assert.Equal(Make.Start.AddSeconds(20), clock.GetUtcNow());
    }

    [Theory]
    [InlineData(0)]
    [InlineData(-1)]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    public void Constructor_FactorNotAboveZero_IsRefused(double factor) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new ScaledTimeProvider(TimeProvider.System, factor, Make.Start));

    [Fact]
    public async Task Delay_EndsAfterItsVirtualTime()
    {
        var inner = new FakeTimeProvider();
        var clock = new ScaledTimeProvider(inner, 10, Make.Start);
        var delay = Task.Delay(TimeSpan.FromSeconds(5), clock);
        inner.Advance(TimeSpan.FromMilliseconds(499));
        Assert.False(delay.IsCompleted);
        inner.Advance(Ms);
        await delay;
        Assert.Equal(Make.Start.AddSeconds(5), clock.GetUtcNow());
    }

    [Fact]
    public void Timer_PeriodBelowAMillisecond_TicksEveryMillisecondAndNeverEarly()
    {
        // 10 ms at a factor of 30 is a third of a millisecond, which a timer of whole milliseconds would take for "once".
        var inner = new FakeTimeProvider();
        var clock = new ScaledTimeProvider(inner, 30, Make.Start);
        var ticks = new List<TimeSpan>();
        using var timer = clock.CreateTimer(_ => ticks.Add(clock.GetUtcNow() - Make.Start), null, TimeSpan.FromMilliseconds(10), TimeSpan.FromMilliseconds(10));
        for (var i = 0; i < 20; i++)
            inner.Advance(Ms);
        Assert.Equal(20, ticks.Count);
        Assert.Equal(TimeSpan.FromMilliseconds(30), ticks[0]);
    }

    [Fact]
    public void Timer_PeriodNoWholeMilliseconds_DoesNotDrift()
    {
        // 50 ms at a factor of 20 is 2.5 ms: cut to 2 ms it would tick 500 times in a second, and must 400 times.
        var inner = new FakeTimeProvider();
        var clock = new ScaledTimeProvider(inner, 20, Make.Start);
        var ticks = 0;
        using var timer = clock.CreateTimer(_ => ticks++, null, TimeSpan.FromMilliseconds(50), TimeSpan.FromMilliseconds(50));
        for (var i = 0; i < 1000; i++)
            inner.Advance(Ms);
        Assert.Equal(400, ticks);
    }

    [Fact]
    public void Timer_LongPause_IsNotMadeUpFor()
    {
        var inner = new FakeTimeProvider();
        var clock = new ScaledTimeProvider(inner, 1, Make.Start);
        var ticks = new List<TimeSpan>();
        using var timer = clock.CreateTimer(_ => ticks.Add(clock.GetUtcNow() - Make.Start), null, TimeSpan.FromSeconds(1), TimeSpan.FromSeconds(1));
        inner.Advance(TimeSpan.FromSeconds(7.5));
        Assert.Single(ticks);
        inner.Advance(TimeSpan.FromSeconds(0.5));
        Assert.Equal([TimeSpan.FromSeconds(7.5), TimeSpan.FromSeconds(8)], ticks);
    }

    [Fact]
    public void Timer_Change_StopsAndStartsIt()
    {
        var inner = new FakeTimeProvider();
        var clock = new ScaledTimeProvider(inner, 10, Make.Start);
        var ticks = 0;
        var timer = clock.CreateTimer(_ => ticks++, null, Timeout.InfiniteTimeSpan, Timeout.InfiniteTimeSpan);
        inner.Advance(TimeSpan.FromSeconds(10));
        Assert.Equal(0, ticks);
        Assert.True(timer.Change(TimeSpan.FromSeconds(1), Timeout.InfiniteTimeSpan));
        inner.Advance(TimeSpan.FromSeconds(1));
        Assert.Equal(1, ticks);
        Assert.True(timer.Change(TimeSpan.Zero, TimeSpan.Zero));
        inner.Advance(Ms);
        Assert.Equal(2, ticks);
        timer.Dispose();
        Assert.False(timer.Change(Ms, Ms));
        Assert.Throws<ArgumentOutOfRangeException>(() => clock.CreateTimer(_ => { }, null, TimeSpan.FromSeconds(-2), Ms));
    }

    [Fact]
    public async Task PeriodicTimer_OnTheRealClock_KeepsTheVirtualRate()
    {
        // 40 ms of virtual time at a factor of 8: about 200 ticks in a second of the wall clock.
        var clock = new ScaledTimeProvider(TimeProvider.System, 8, Make.Start);
        using var timer = new PeriodicTimer(TimeSpan.FromMilliseconds(40), clock);
        var first = clock.GetUtcNow();
        for (var i = 0; i < 100; i++)
            Assert.True(await timer.WaitForNextTickAsync());
        var elapsed = clock.GetUtcNow() - first;
        // Never earlier than its ticks are due; later only as far as the machine is busy.
        Assert.True(elapsed >= TimeSpan.FromMilliseconds(40 * 99), $"{elapsed} of virtual time for 100 ticks of 40 ms");
    }

    private sealed class SetBack(FakeTimeProvider inner) : TimeProvider
    {
        public override long TimestampFrequency => inner.TimestampFrequency;

        public override long GetTimestamp() => inner.GetTimestamp();

        public override DateTimeOffset GetUtcNow() => inner.GetUtcNow().AddHours(-1 * (inner.GetUtcNow() - Make.Start).TotalSeconds);
    }
}
