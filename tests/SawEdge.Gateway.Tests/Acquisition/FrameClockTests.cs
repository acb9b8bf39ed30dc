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

    /// <summary>A wall clock that can be set without touching the monotonic one.</summary>
    private sealed class TwoClocks : TimeProvider
    {
        private long _ticks = 1_000_000;

        public DateTimeOffset Wall { get; set; }

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override DateTimeOffset GetUtcNow() => Wall;

        public override long GetTimestamp() => _ticks;

        public void Pass(TimeSpan time)
        {
            Wall += time;
            _ticks += time.Ticks;
        }
    }
}
