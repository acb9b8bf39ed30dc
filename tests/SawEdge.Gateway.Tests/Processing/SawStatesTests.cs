using SawEdge.Core.Cutting;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Tests.History;

namespace SawEdge.Gateway.Tests.Processing;

/// <summary>What a saw did, as the history holds it after clean stops and power cuts.</summary>
public sealed class SawStatesTests
{
    private static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Run_WithStopsInBetween_StoresATimelineWithoutOverlap(bool crash)
    {
        await using var history = new RunningHistory();
        var processor = new CrashingProcessor(history, new SawMachine { Name = "Saw 1" }, JobBook.Empty, storeEachFrame: false);
        await processor.RunAsync(Frames(0, 300), crash);
        await processor.RunAsync(Frames(302, 600), crash: false);
        await processor.RunAsync(Frames(900, 1200), crash: false);
        var stored = await history.Reader.StatesAsync("Saw 1", new Period(Start, Start.AddHours(1)));

        for (var i = 1; i < stored.Count; i++)
            Assert.Equal(stored[i - 1].To, stored[i].From);
        var line = StateTimeline.Of(new Period(Start, Start.AddSeconds(1200)), stored);

        // The frame of 599.9 s is the last before the gateway was away, that of 900 s the first after it.
        Assert.InRange(line.TimeIn(TimelineState.Unknown).TotalSeconds, 300.1, crash ? 300.3 + 72 : 300.3);
        Assert.Equal(TimelineState.Executing, line.At(Start.AddSeconds(130)).State);
        Assert.Equal(TimelineState.NotExecuting, line.At(Start.AddSeconds(50)).State);
        Assert.Equal("A-1", line.At(Start.AddSeconds(1150)).Job);
        Assert.Equal(TimelineState.Unknown, line.At(Start.AddSeconds(750)).State);
    }

    // 100 s of pause and 100 s of cycle in turn.
    private static List<SignalFrame> Frames(int from, int to)
    {
        var frames = new List<SignalFrame>();
        for (var tenth = from * 10; tenth < to * 10; tenth++)
        {
            var frame = new SignalFrame(Start.AddMilliseconds(tenth * 100));
            frame.Set(Signal.CycleActive, tenth / 1000 % 2);
            frame.Set(Signal.MotorLoad, 1);
            frame.Set(Signal.Job, "A-1");
            frames.Add(frame);
        }

        return frames;
    }
}
