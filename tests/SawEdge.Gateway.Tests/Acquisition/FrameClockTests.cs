using SawEdge.Gateway.Acquisition;

namespace SawEdge.Gateway.Tests.Acquisition;

public sealed class FrameClockTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 29, 0, 59, 0, TimeSpan.Zero);

    [Fact]
    public void Now_WallClockIsSetBack_GoesOnByWhatPassed()
    {
        var time = new TwoClocks { Wall = Start };
        var clock = new FrameClock(time);
        time.Pass(TimeSpan.FromSeconds(10));
        time.Wall -= TimeSpan.FromHours(1);
        time.Pass(TimeSpan.FromSeconds(5));
        Assert.Equal(Start + TimeSpan.FromSeconds(15), clock.Now);
        Assert.Equal(TimeSpan.FromHours(-1), clock.Deviation);
    }

    [Fact]
    public void At_TimestampsBeforeAndAfterTheAnchor_KeepTheirDistance()
    {
        var time = new TwoClocks { Wall = Start };
        var before = time.GetTimestamp();
        time.Pass(TimeSpan.FromMilliseconds(250));
        var clock = new FrameClock(time);
        Assert.Equal(Start, clock.At(before));
        Assert.Equal(Start + TimeSpan.FromMilliseconds(250), clock.Now);
        Assert.Equal(TimeSpan.Zero, clock.Now.Offset);
    }

    [Fact]
    public void Follow_AfterAStep_GoesOverToTheWallClock()
    {
        var time = new TwoClocks { Wall = Start };
        var clock = new FrameClock(time);
        time.Pass(TimeSpan.FromSeconds(10));
        time.Wall -= TimeSpan.FromHours(1);
        clock.Follow();
        Assert.Equal(time.Wall, clock.Now);
        time.Wall += TimeSpan.FromMilliseconds(900);
        clock.Follow();
        Assert.Equal(TimeSpan.FromMilliseconds(900), clock.Deviation);
    }

    [Fact]
    public void Deviation_AThreadIsHeldUpBetweenTheTwoClocks_SeesNoStep()
    {
        var time = new HeldUp();
        var clock = new FrameClock(time);
        time.Holds = 3;
        Assert.Equal(TimeSpan.Zero, clock.Deviation);
        Assert.Equal(0, time.Holds);
    }

    private sealed class HeldUp : TimeProvider
    {
        private TimeSpan _passed;

        public int Holds { get; set; }

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => _passed.Ticks;

        public override DateTimeOffset GetUtcNow()
        {
            if (Holds > 0)
            {
                Holds--;
                _passed += TimeSpan.FromSeconds(2);
            }

            return Start + _passed;
        }
    }
}
