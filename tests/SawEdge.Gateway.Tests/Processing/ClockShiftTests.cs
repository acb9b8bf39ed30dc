using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Tests.Acquisition;

namespace SawEdge.Gateway.Tests.Processing;

public sealed class ClockShiftTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 29, 0, 59, 0, TimeSpan.Zero);

    [Fact]
    public void AfterAStep_IsTheStepOnceItFollows_AndTheFramesClockStaysAsItIs()
    {
        var time = new TwoClocks { Wall = Start };
        var clock = new FrameClock(time);
        var shift = new ClockShift(clock);
        time.Pass(TimeSpan.FromSeconds(10));
        time.Wall -= TimeSpan.FromHours(1);
        Assert.Equal(TimeSpan.FromHours(-1), shift.LookForStep());
        time.Pass(TimeSpan.FromSeconds(1));
        Assert.Equal(TimeSpan.Zero, shift.LookForStep());
        Assert.Equal(TimeSpan.Zero, shift.Value);
        shift.Follow();
        Assert.Equal(TimeSpan.FromHours(-1), shift.Value);
        Assert.Equal(time.Wall, clock.Now + shift.Value);
        Assert.Equal(TimeSpan.Zero, shift.LookForStep());
        time.Wall += TimeSpan.FromHours(1);
        Assert.Equal(TimeSpan.FromHours(1), shift.LookForStep());
        shift.Follow();
        Assert.Equal(TimeSpan.Zero, shift.Value);
    }

    [Fact]
    public void AClockThatCreeps_IsNoStep_AndIsFollowedAllTheSame()
    {
        var time = new TwoClocks { Wall = Start };
        var clock = new FrameClock(time);
        var shift = new ClockShift(clock);
        for (var i = 0; i < 3600; i++)
        {
            time.Pass(TimeSpan.FromSeconds(1));
            time.Wall += TimeSpan.FromMicroseconds(500);
            Assert.Equal(TimeSpan.Zero, shift.LookForStep());
            shift.Follow();
        }

        Assert.InRange((time.Wall - (clock.Now + shift.Value)).TotalSeconds, 0, 1);
        Assert.InRange(shift.Value.TotalSeconds, 1, 2);
    }

    [Fact]
    public void Resume_UnderTheSameBoot_GoesByTheClockOfBefore_AndTellsWhatWasSetMeanwhile()
    {
        var time = new TwoClocks { Wall = Start };
        var saved = new ClockShift(new FrameClock(time, "boot")).Saved;
        time.Pass(TimeSpan.FromSeconds(30));
        time.Wall -= TimeSpan.FromDays(35);
        var clock = new FrameClock(time, "boot");
        var shift = new ClockShift(clock);
        shift.Resume(saved);
        Assert.Equal(Start.AddSeconds(30), clock.Now + shift.Value);
        Assert.Equal(TimeSpan.FromDays(-35), shift.LookForStep());
        shift.Follow();
        Assert.Equal(time.Wall, clock.Now + shift.Value);
    }

    [Theory]
    [InlineData("another boot")]
    [InlineData(null)]
    public void Resume_UnderAnotherBoot_NobodyKnowsHowLongItWas(string? boot)
    {
        var time = new TwoClocks { Wall = Start };
        var saved = new ClockShift(new FrameClock(time, "boot")).Saved;
        time.Wall += TimeSpan.FromHours(5);
        var shift = new ClockShift(new FrameClock(time, boot));
        shift.Resume(saved);
        Assert.Equal(TimeSpan.Zero, shift.Value);
        Assert.Equal(TimeSpan.Zero, shift.LookForStep());
        Assert.Equal(boot is null, shift.Saved is null);
    }
}
