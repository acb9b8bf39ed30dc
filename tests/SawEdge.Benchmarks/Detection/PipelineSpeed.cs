using System.Diagnostics;
using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Benchmarks.Detection;

/// <summary>Frames a second through detector and model on one core, and what is allocated on the way.</summary>
internal static class PipelineSpeed
{
    public static void Run()
    {
        var plant = Plant.Create(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero), withFaults: false);
        var saw = plant.Saws[0];
        var frames = RecordingGenerator.Frames(new VirtualSaw(saw.Options), new RecordingOptions { Interval = TimeSpan.FromMilliseconds(100), Cycles = 60 }).ToArray();
        var jobs = JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book;
        var machine = saw.Options.Machine.ToSawMachine();

        Console.WriteLine("frames through SawPipeline (detector, cutting model, record) on one thread, saw at 10 Hz, everything mapped");
        Measure(frames, machine, jobs, warm: true);
        var best = Enumerable.Range(0, 7).Select(_ => Measure(frames, machine, jobs, warm: false)).OrderByDescending(run => run.FramesPerSecond).ToArray();
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{frames.Length} frames, {best[0].Cycles} cycles: median {best[3].FramesPerSecond:N0} frames/s (best {best[0].FramesPerSecond:N0}), {best[3].BytesPerCycle:N0} bytes a finished cycle, allocated in {best[3].AllocatingPerCycle:0.0} of its {(double)frames.Length / 60:N0} frames, nothing in the others"));
    }

    private static (double FramesPerSecond, int Cycles, double BytesPerCycle, double AllocatingPerCycle) Measure(SignalFrame[] frames, SawMachine machine, JobBook jobs, bool warm)
    {
        var pipeline = new SawPipeline(machine, jobs);
        var rounds = warm ? 2 : 4;
        var cycles = 0;
        long allocating = 0, cycleBytes = 0, count = 0;
        var started = Stopwatch.GetTimestamp();
        for (var round = 0; round < rounds; round++)
        {
            var shift = (frames[^1].Time - frames[0].Time + TimeSpan.FromSeconds(1)) * round;
            for (var i = 0; i < frames.Length; i++)
            {
                var frame = frames[i];
                frame.Time += shift;
                var before = GC.GetAllocatedBytesForCurrentThread();
                pipeline.Push(frame);
                var finished = pipeline.TryTake(out _);
                var bytes = GC.GetAllocatedBytesForCurrentThread() - before;
                count++;
                if (finished)
                    cycles++;

                if (bytes > 0 && round > 0)
                {
                    allocating++;
                    cycleBytes += bytes;
                }
            }
        }

        var seconds = Stopwatch.GetElapsedTime(started).TotalSeconds;
        var steadyCycles = Math.Max(1, cycles * (rounds - 1) / rounds);
        return (count / seconds, cycles, (double)cycleBytes / steadyCycles, (double)allocating / steadyCycles);
    }
}
