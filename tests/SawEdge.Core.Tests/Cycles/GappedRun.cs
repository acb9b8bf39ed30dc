using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Tests.Cycles;

/// <summary>A saw's frames with some missing, seen by one detector, or by one that is started anew after each gap as the gateway is.</summary>
internal static class GappedRun
{
    /// <summary>Seconds between frames.</summary>
    public const double Interval = 0.25;

    // Cycles of about two minutes; ends are the ends of their bits, 8 s before the next begins.
    public static SawScript Cuts(int count, out List<double> ends, Random? random = null)
    {
        var script = new SawScript().Wait(20);
        ends = [];
        for (var i = 0; i < count; i++)
        {
            script.FullCut(out _, out _);
            ends.Add(script.Now);
            script.Wait(random is null ? 10 : 5 + (60 * random.NextDouble()));
        }

        return script;
    }

    // Frames are missing in the gaps; with restarts the detector is a new one after each, which goes on as the gateway does: with stored frames of an open cycle.
    public static List<Cut> Detect(SawScript script, Signal[] signals, bool restart, params (double From, double To)[] gaps)
    {
        var detector = new CycleDetector();
        var cuts = new List<Cut>();
        var (memory, stored) = (detector.Save(), new List<SignalFrame>());
        var recent = new List<SignalFrame>();
        var gap = 0;
        foreach (var frame in script.Frames(Interval, signals))
        {
            if (gap < gaps.Length && frame.Time >= At(gaps[gap].From))
            {
                if (frame.Time < At(gaps[gap].To))
                    continue;
                gap++;
                if (restart)
                {
                    detector = new CycleDetector();
                    detector.Restore(memory);
                    foreach (var old in stored)
                        Push(detector, old, cuts);
                    detector.Resume();
                }
            }

            // With the memory of an open cycle go the frames from just before it; once it is over, none.
            var wasOpen = detector.HasOpenEnds;
            Push(detector, frame, cuts);
            recent.Add(frame);
            if (!detector.HasOpenEnds || !wasOpen)
            {
                memory = detector.Save();
                stored.Clear();
                if (detector.HasOpenEnds)
                    stored.AddRange(recent.SkipWhile(old => old.Time != detector.NeededFrom));
            }
            else
            {
                stored.Add(frame);
            }
        }

        detector.Complete();
        while (detector.TryTake(out var cut))
            cuts.Add(cut);
        return cuts;
    }

    private static void Push(CycleDetector detector, in SignalFrame frame, List<Cut> cuts)
    {
        detector.Push(frame);
        while (detector.TryTake(out var cut))
            cuts.Add(cut);
    }

    // The moment of the first frame from there on.
    public static DateTimeOffset At(double seconds) => SawScript.At(Math.Ceiling(seconds / Interval) * Interval);

    // That of the last frame before.
    public static DateTimeOffset Before(double seconds) => At(seconds).AddSeconds(-Interval);
}
