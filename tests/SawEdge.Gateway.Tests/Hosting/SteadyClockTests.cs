using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Tests.Acquisition;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Hosting;

public sealed class SteadyClockTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    private readonly TwoClocks _machine = new() { Wall = Start };
    private readonly CollectedLog _log = new();

    [Theory]
    [InlineData(3600)]
    [InlineData(-3600)]
    [InlineData(-1)]
    [InlineData(86_400)]
    public void GetUtcNow_StepOfADayAtMost_IsFollowedAtOnceAndSaidOnce(double seconds)
    {
        var clock = New();
        _machine.Pass(TimeSpan.FromMinutes(5));
        _machine.Wall += TimeSpan.FromSeconds(seconds);
        Assert.Equal(_machine.Wall, clock.GetUtcNow());
        Assert.Equal(1, _log.Count(3550));
        Assert.Contains("it was set", clock.Trouble, StringComparison.Ordinal);
        Assert.Null(clock.Doubt);

        // To and fro: one trouble.
        _machine.Wall -= TimeSpan.FromSeconds(seconds);
        Assert.Equal(_machine.Wall, clock.GetUtcNow());
        Look(clock, TimeSpan.FromMinutes(11));
        Assert.Equal((1, 1), (_log.Count(3550), _log.Count(3551)));
        Assert.Null(clock.Trouble);
    }

    [Fact]
    public void GetUtcNow_AClockThatIsSlewedBy500Ppm_IsFollowedWithoutAWord()
    {
        var clock = New();
        for (var i = 0; i < 3600; i++)
        {
            _machine.Pass(TimeSpan.FromSeconds(1));
            _machine.Wall += TimeSpan.FromMicroseconds(500);
            Assert.Equal(_machine.Wall, clock.GetUtcNow());
        }

        Assert.Equal(0, _log.Count(3550));
        Assert.Null(clock.Trouble);
    }

    [Fact]
    public void GetUtcNow_IntoTheYear2099AndBack_TimeGoesOnAsItPasses()
    {
        var clock = New();
        _machine.Wall = new DateTimeOffset(2099, 1, 1, 0, 0, 0, TimeSpan.Zero);
        Look(clock, TimeSpan.FromMinutes(50));
        Assert.Equal(Start + TimeSpan.FromMinutes(50), clock.GetUtcNow());
        Assert.Contains("2099", clock.Doubt, StringComparison.Ordinal);
        Assert.False(clock.IsFitForClearing);
        _machine.Wall = Start + TimeSpan.FromMinutes(50);
        Assert.Equal(_machine.Wall, clock.GetUtcNow());
        Assert.Null(clock.Doubt);
        Assert.True(clock.IsFitForClearing);
        Assert.Equal((0, 1, 1), (_log.Count(3550), _log.Count(3553), _log.Count(3554)));
    }

    [Fact]
    public void GetUtcNow_AGreatStepThatStands_IsFollowedAfterAnHour_AndNothingIsClearedByItForADay()
    {
        var clock = New();
        _machine.Wall += TimeSpan.FromDays(400);
        Look(clock, TimeSpan.FromMinutes(61));
        Assert.Equal(_machine.Wall, clock.GetUtcNow());
        Assert.Equal((1, 1), (_log.Count(3550), _log.Count(3553)));
        Assert.False(clock.IsFitForClearing);
        Look(clock, TimeSpan.FromHours(25));
        Assert.True(clock.IsFitForClearing);
        Assert.Null(clock.Trouble);
    }

    [Theory]
    [InlineData(1970)]
    [InlineData(2000)]
    public void GetUtcNow_NotSetAtTheStart_IsDoubted_AndTheTimeServerIsBelievedAtOnce(int year)
    {
        _machine.Wall = new DateTimeOffset(year, 1, 1, 0, 3, 0, TimeSpan.Zero);
        var clock = New();
        clock.Know(Start);
        Assert.Contains("before this program was written", clock.Doubt, StringComparison.Ordinal);
        Assert.False(clock.IsFitForClearing);
        Assert.Equal(1, _log.Count(3552));
        _machine.Wall = Start + TimeSpan.FromMinutes(1);
        Assert.Equal(_machine.Wall, clock.GetUtcNow());
        Assert.Null(clock.Doubt);
    }

    [Fact]
    public void Know_BehindWhatIsStored_IsDoubtedUntilItHasCaughtUp()
    {
        var clock = New();
        clock.Know(Start + TimeSpan.FromHours(2));
        Assert.Contains("before the end of what is stored", clock.Doubt, StringComparison.Ordinal);
        Look(clock, TimeSpan.FromHours(2));
        Assert.Null(clock.Doubt);
    }

    [Fact]
    public void Know_FarAheadOfWhatIsStored_NothingIsClearedUntilItIsSetRightOrADayHasPassed()
    {
        _machine.Wall = Start + TimeSpan.FromDays(20_000);
        var clock = New();
        clock.Know(Start);
        Assert.False(clock.IsFitForClearing);
        _machine.Wall -= TimeSpan.FromDays(19_999);
        Assert.Equal(_machine.Wall, clock.GetUtcNow());

        var stands = new SteadyClock(_machine, _log.For<SteadyClock>());
        stands.Know(_machine.Wall - TimeSpan.FromDays(40));
        Assert.False(stands.IsFitForClearing);
        Look(stands, TimeSpan.FromHours(25));
        Assert.True(stands.IsFitForClearing);
        Assert.Null(stands.Doubt);
    }

    // As the tests' own clock does, which runs timers while it is read.
    [Fact]
    public async Task GetUtcNow_TheMachineWaitsForAThreadThatAsksToo_NeitherHoldsUpTheOther()
    {
        var clock = New();
        var asked = default(DateTimeOffset?);
        _machine.WhileRead = () => Assert.True(Task.Run(() => asked = clock.GetUtcNow()).Wait(TimeSpan.FromSeconds(30)), "the other thread is held up");
        Assert.Equal(Start, await Task.Run(clock.GetUtcNow));
        Assert.Equal(Start, asked);
    }

    [Theory]
    [InlineData(3600)]
    [InlineData(-3600)]
    public void GetUtcNow_AnotherThreadComesUponAStepMeanwhile_WhatWasReadBeforeItIsNoStepBack(double seconds)
    {
        var clock = New();
        _machine.WhileRead = () =>
        {
            _machine.Wall += TimeSpan.FromSeconds(seconds);
            Assert.Equal(_machine.Wall, clock.GetUtcNow());
        };
        Assert.Equal(Start + TimeSpan.FromSeconds(seconds), clock.GetUtcNow());
        Look(clock, TimeSpan.FromMinutes(11));
        Assert.EndsWith("it was set 1 times", Assert.Single(_log.Entries, entry => entry.Id == 3551).Text, StringComparison.Ordinal);
    }

    private SteadyClock New() => new(_machine, _log.For<SteadyClock>());

    // The gateway asks each second.
    private void Look(SteadyClock clock, TimeSpan time)
    {
        for (var passed = TimeSpan.Zero; passed < time; passed += TimeSpan.FromSeconds(1))
        {
            _machine.Pass(TimeSpan.FromSeconds(1));
            clock.GetUtcNow();
        }
    }
}
