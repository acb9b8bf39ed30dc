using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Signals;

public sealed class SignalSamplerTests
{
    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 5, 0, 0, TimeSpan.Zero);
    private static readonly TimeSpan Ten = TimeSpan.FromSeconds(10);

    [Fact]
    public void Push_FramesOfTwoIntervals_GivesTheFirstWhenTheSecondBegins()
    {
        var sampler = new SignalSampler(Ten);
        sampler.Push(Frame(1, 2, false));
        sampler.Push(Frame(4, 8, true));
        sampler.Push(Frame(9.999, 5, true));
        Assert.Equal(0, sampler.Waiting);
        sampler.Push(Frame(10, 100, false));

        var sample = Assert.Single(Taken(sampler));
        Assert.Equal((Begin, Begin + Ten, Ten, 3), (sample.From, sample.To, sample.Every, sample.Frames));
        Assert.Equal(new SignalFigures(3, 5, 2, 8, 5), sample[Signal.MotorLoad]);
        Assert.Equal(new SignalFigures(3, 2f / 3, 0, 1, 1), sample[Signal.Cutting]);
        Assert.Null(sample[Signal.BladeSpeed]);
        Assert.Null(sample[Signal.FaultCode]);
    }

    [Fact]
    public void Push_AFrameOnTheBoundary_BelongsToTheLaterInterval()
    {
        var sampler = new SignalSampler(Ten);
        sampler.Push(Frame(10, 1, false));
        var before = new SignalFrame(Begin.AddSeconds(20).AddTicks(-1));
        before.Set(Signal.MotorLoad, 3);
        sampler.Push(before);
        sampler.Push(Frame(20, 7, false));
        sampler.Complete();

        Assert.Equal([(Begin.AddSeconds(10), 2f), (Begin.AddSeconds(20), 7f)], Taken(sampler).Select(sample => (sample.From, sample[Signal.MotorLoad]!.Value.Mean)));
    }

    [Theory]
    [InlineData("2026-03-02T05:00:13.5Z", 10_000, "2026-03-02T05:00:10Z")]
    [InlineData("2026-03-02T06:17:00+01:00", 900_000, "2026-03-02T05:15:00Z")]
    [InlineData("1970-01-01T00:00:06.999Z", 7_000, "1970-01-01T00:00:00Z")]
    [InlineData("1970-01-01T00:00:07Z", 7_000, "1970-01-01T00:00:07Z")]
    [InlineData("1969-12-31T23:59:59Z", 7_000, "1969-12-31T23:59:53Z")]
    public void IntervalOf_AnyMoment_IsOnTheGridSince1970(string at, int everyMs, string begin) =>
        Assert.Equal(Parse(begin), new SignalSampler(TimeSpan.FromMilliseconds(everyMs)).IntervalOf(Parse(at)));

    [Fact]
    public void Push_BadAndMissingValues_CountForNothing()
    {
        var sampler = new SignalSampler(Ten);
        sampler.Push(Frame(1, double.NaN, true));
        var bare = new SignalFrame(Begin.AddSeconds(2));
        bare.Set(Signal.Cutting, true);
        sampler.Push(bare);
        var bad = Frame(3, 4, true);
        bad.Mark(Signal.Cutting, SignalQuality.OutOfRange);
        sampler.Push(bad);
        sampler.Push(Frame(4, 1e39, true));
        sampler.Complete();

        var sample = Assert.Single(Taken(sampler));
        Assert.Equal((4, 1, 3), (sample.Frames, sample[Signal.MotorLoad]!.Value.Count, sample[Signal.Cutting]!.Value.Count));
        Assert.Equal(4, sample[Signal.MotorLoad]!.Value.Mean);
    }

    [Fact]
    public void Push_FramesWithNothingToSample_MakeNoSample()
    {
        var sampler = new SignalSampler(Ten);
        sampler.Push(Frame(1, 2, true));
        var text = new SignalFrame(Begin.AddSeconds(500));
        text.Set(Signal.Job, "A-1");
        text.Set(Signal.PartCount, 12);
        text.Mark(Signal.MotorLoad, SignalQuality.SourceFault);
        sampler.Push(text);
        Assert.Equal(0, sampler.Waiting);
        sampler.Push(Frame(8, 4, true));
        sampler.Complete();

        Assert.Equal(2, Assert.Single(Taken(sampler)).Frames);
    }

    [Fact]
    public void Push_AGap_LeavesNoEmptySamples()
    {
        var sampler = new SignalSampler(Ten);
        sampler.Push(Frame(1, 2, true));
        sampler.Push(Frame(3605, 2, true));
        sampler.Complete();

        Assert.Equal([Begin, Begin.AddHours(1)], Taken(sampler).Select(sample => sample.From));
    }

    [Fact]
    public void Push_AFrameTwiceOrLate_IsPassedOver()
    {
        var sampler = new SignalSampler(Ten);
        sampler.Push(Frame(8, 2, true));
        sampler.Push(Frame(8, 2, true));
        sampler.Push(Frame(11, 6, true));
        sampler.Push(Frame(9.9, 1000, true));
        sampler.Push(Frame(11.5, 8, true));
        sampler.Complete();

        Assert.Equal([(1, 2f), (2, 7f)], Taken(sampler).Select(sample => (sample.Frames, sample[Signal.MotorLoad]!.Value.Mean)));
    }

    [Fact]
    public void Push_AClockSetBack_IsBelievedAtTheThirdRisingFrame()
    {
        var sampler = new SignalSampler(Ten);
        for (var t = 0; t < 30; t++)
            sampler.Push(Frame(t, t, true));
        for (var t = 5; t < 12; t++)
            sampler.Push(Frame(t, 50 + t, true));
        sampler.Complete();

        // Of the second visit two frames went for the proof.
        Assert.Equal([(0, 10), (10, 10), (20, 10), (0, 3), (10, 2)], Taken(sampler).Select(sample => ((int)(sample.From - Begin).TotalSeconds, sample.Frames)));
    }

    [Fact]
    public void Restore_AnIntervalThatWasBegun_GoesOnWithIt()
    {
        var first = new SignalSampler(Ten);
        first.Push(Frame(1, 2, false));
        first.Push(Frame(2, 3, true));
        first.Complete();
        var begun = Assert.Single(Taken(first));

        var second = new SignalSampler(Ten);
        var next = Frame(5, 10, true);
        Assert.True(second.IsOpenedAgainBy(next));
        second.Restore(begun);
        Assert.False(second.IsOpenedAgainBy(next));
        second.Push(next);
        Assert.False(second.IsOpenedAgainBy(Frame(11, 0, true)));
        second.Push(Frame(11, 0, true));

        var whole = Assert.Single(Taken(second));
        Assert.Equal((Begin, 3), (whole.From, whole.Frames));
        Assert.Equal(new SignalFigures(3, 5, 2, 10, 10), whole[Signal.MotorLoad]);
        Assert.Equal(new SignalFigures(3, 2f / 3, 0, 1, 1), whole[Signal.Cutting]);
    }

    [Fact]
    public void Restore_OfAnotherGrid_IsRefused()
    {
        var minute = new SignalSampler(TimeSpan.FromMinutes(1));
        minute.Push(Frame(1, 2, false));
        minute.Complete();
        var sample = Assert.Single(Taken(minute));

        Assert.Throws<ArgumentException>(() => new SignalSampler(Ten).Restore(sample));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(-10)]
    [InlineData(1.00005)]
    public void New_WithoutALengthInWholeMilliseconds_IsRefused(double seconds) => Assert.Throws<ArgumentOutOfRangeException>(() => new SignalSampler(TimeSpan.FromSeconds(seconds)));

    [Fact]
    public void Push_Frames_AllocatesNothingButAnArrayAnInterval()
    {
        var sampler = new SignalSampler(Ten);
        var frames = Enumerable.Range(0, 10_000).Select(t => Frame(t * 0.1, t % 7, t % 3 == 0)).ToArray();
        Run(sampler, frames, 0, 5000);
        var before = GC.GetAllocatedBytesForCurrentThread();
        Run(sampler, frames, 5000, 10_000);
        var allocated = GC.GetAllocatedBytesForCurrentThread() - before;

        // 50 intervals; an array of 7 figures of 20 bytes, with its header. A collection that another test sets off counts up to 8 kB once.
        Assert.InRange(allocated, 1, (50 * (24 + (7 * 20) + 8)) + 8192);

        static void Run(SignalSampler sampler, SignalFrame[] frames, int from, int to)
        {
            for (var i = from; i < to; i++)
            {
                sampler.Push(frames[i]);
                sampler.TryTake(out _);
            }
        }
    }

    private static DateTimeOffset Parse(string text) => DateTimeOffset.Parse(text, System.Globalization.CultureInfo.InvariantCulture);

    private static SignalFrame Frame(double seconds, double load, bool cutting)
    {
        var frame = new SignalFrame(Begin.AddTicks((long)(seconds * TimeSpan.TicksPerSecond)));
        frame.Set(Signal.MotorLoad, load);
        frame.Set(Signal.Cutting, cutting);
        return frame;
    }

    private static List<SignalSample> Taken(SignalSampler sampler)
    {
        var taken = new List<SignalSample>();
        while (sampler.TryTake(out var sample))
            taken.Add(sample);
        return taken;
    }
}
