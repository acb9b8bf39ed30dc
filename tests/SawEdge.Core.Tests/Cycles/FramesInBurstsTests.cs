using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>A line or a machine that is held up: frames come seldom, then many at once, and their number says nothing about time.</summary>
public sealed class FramesInBurstsTests
{
    private const double Contact = 4.5;
    private const double Breakthrough = 8;

    private static readonly DateTimeOffset Begin = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    /// <summary>The blade runs up, and many frames show that; the cut is a short one, and few show it.</summary>
    [Fact]
    public void Push_ManyFramesOfTheStartOfTheMotorAndFewOfTheCut_TheContactIsThatOfTheCut()
    {
        var detector = new CycleDetector();
        for (var t = -20.0; t < 20; t += t is > 1 and < 2 ? 0.01 : t is > Contact - 0.3 and < Breakthrough + 0.3 ? 0.35 : 0.2)
            detector.Push(Frame(t));

        Assert.True(detector.TryTake(out var cut));
        Assert.Equal(CutOutcome.Completed, cut.Outcome);
        Assert.InRange((cut.CutStartedAt!.Value - Begin).TotalSeconds, Contact - 0.4, Contact + 0.4);
        Assert.InRange((cut.CutEndedAt!.Value - Begin).TotalSeconds, Breakthrough - 0.4, Breakthrough + 0.4);
        Assert.False(detector.TryTake(out _));
    }

    // A cycle of ten seconds on a bar 20 mm high: the motor starts after one second, takes twice what it takes in air and runs down to that.
    private static SignalFrame Frame(double t)
    {
        var frame = new SignalFrame(Begin.AddTicks((long)(t * TimeSpan.TicksPerSecond)));
        var runs = t is >= 1 and < 9.5;
        frame.Set(Signal.CycleActive, t is >= 0 and < 10);
        frame.Set(Signal.Cutting, t is >= 2.5 and < Breakthrough);
        frame.Set(Signal.BladeRunning, runs);
        frame.Set(Signal.PartCount, t < 10 ? 7 : 8);
        frame.Set(Signal.HeadPosition, t switch
        {
            < 1.5 => 60,
            < 2.5 => 60 - (35 * (t - 1.5)),
            < Contact => 25 - (5 / (Contact - 2.5) * (t - 2.5)),
            < Breakthrough => 20 - (20 / (Breakthrough - Contact) * (t - Contact)),
            < 9 => 60 * (t - Breakthrough),
            _ => 60,
        });
        frame.Set(Signal.MotorLoad, !runs ? 0 : t is >= Contact and < Breakthrough ? 1.7 : 0.8 + (0.9 * Math.Exp(-(t - 1) / 0.35)));
        return frame;
    }
}
