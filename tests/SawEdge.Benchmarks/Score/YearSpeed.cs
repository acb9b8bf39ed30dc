using System.Diagnostics;
using System.Globalization;
using SawEdge.Core;

namespace SawEdge.Benchmarks.Score;

/// <summary>A year of one saw through its pipeline: the frames of a week's work, again and again with their time shifted.</summary>
internal static class YearSpeed
{
    // 2,000 hours of work at 10 Hz in 52 weeks.
    private const int FramesAWeek = 72_000_000 / 52;

    public static void Run(int weeks)
    {
        var saw = new VirtualCuts(jobs: 8);
        var frames = saw.Frames(int.MaxValue).Take(FramesAWeek).ToArray();
        var pipeline = new SawPipeline(saw.Machine, saw.Jobs);
        long count = 0, cuts = 0, again = 0;
        DateTimeOffset? last = null;
        var collections = GC.CollectionCount(0);
        var bytes = GC.GetAllocatedBytesForCurrentThread();
        var started = Stopwatch.GetTimestamp();
        for (var week = 0; week < weeks; week++)
        {
            var shift = TimeSpan.FromDays(7 * week);
            foreach (var original in frames)
            {
                var frame = original;
                frame.Time += shift;
                pipeline.Push(frame);
                count++;
                while (pipeline.TryTake(out var cut))
                {
                    if (cut.Record.StartedAt > last || last is null)
                        (last, cuts) = (cut.Record.StartedAt, cuts + 1);
                    else
                        again++;
                }

                while (pipeline.TryTakeFinding(out _))
                {
                }
            }
        }

        var seconds = Stopwatch.GetElapsedTime(started).TotalSeconds;
        bytes = GC.GetAllocatedBytesForCurrentThread() - bytes;
        var state = Gateway.Processing.MemoryCodec.Encode(pipeline.Save(), 0, 0).Data.Length;
        Console.WriteLine("one saw at 10 Hz, everything mapped, 8 jobs, 38.5 h of work a week, through SawPipeline on one thread");
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{weeks} weeks: {count:N0} frames, {cuts:N0} cuts ({again} came again, corrected) in {seconds:0.0} s: {count / seconds:N0} frames/s, {cuts / seconds:N0} cuts/s"));
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{(double)bytes / cuts:N0} bytes allocated a cut, {GC.CollectionCount(0) - collections} collections; at the end {state:N0} bytes of state, {pipeline.Recorder.Blades.Count} blades, working set {Environment.WorkingSet / 1048576.0:0} MB, of which the frames of the week are {frames.Length * (double)System.Runtime.CompilerServices.Unsafe.SizeOf<Core.Signals.SignalFrame>() / 1048576:0} MB"));
    }
}
