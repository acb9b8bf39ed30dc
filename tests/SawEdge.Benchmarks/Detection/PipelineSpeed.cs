using System.Diagnostics;
using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
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

        Console.WriteLine("frames through SawPipeline (detector, live watch, cutting model, record with load score) on one thread, saw at 10 Hz, everything mapped");
        Measure(frames, machine, jobs, warm: true);
        var best = Enumerable.Range(0, 7).Select(_ => Measure(frames, machine, jobs, warm: false)).OrderByDescending(run => run.FramesPerSecond).ToArray();
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{frames.Length} frames, {best[0].Cycles} cycles: median {best[3].FramesPerSecond:N0} frames/s (best {best[0].FramesPerSecond:N0}), {best[3].BytesPerCycle:N0} bytes a finished cycle, allocated in {best[3].AllocatingPerCycle:0.0} of its {(double)frames.Length / 60:N0} frames, nothing in the others"));
        Shares(frames, machine, jobs);
    }

    // What the parts take of a frame, side by side: other work on the machine hits all of them.
    private static void Shares(SignalFrame[] frames, SawMachine machine, JobBook jobs)
    {
        var runs = Enumerable.Range(0, 8).Select(_ => (Detector: Detect(frames, machine, jobs, watched: false), Watched: Detect(frames, machine, jobs, watched: true), Push: Push(frames, machine, jobs))).Skip(1).ToArray();
        var detector = Median(runs.Select(run => run.Detector.Nanoseconds));
        var watched = Median(runs.Select(run => run.Watched.Nanoseconds));
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"a frame, median of {runs.Length}: detector alone {detector / 1000:0.000} us, with the live watch {watched / 1000:0.000} us (the watch alone {Median(runs.Select(run => run.Watched.Nanoseconds - run.Detector.Nanoseconds)) / 1000:0.000} us and {runs.Max(run => run.Watched.Bytes - run.Detector.Bytes):0.##} bytes), SawPipeline.Push with its share of the finished cuts {Median(runs.Select(run => run.Push)) / 1000:0.000} us"));
    }

    private static (double Nanoseconds, double Bytes) Detect(SignalFrame[] frames, SawMachine machine, JobBook jobs, bool watched)
    {
        // As the pipeline builds it.
        var detector = new CycleDetector
        {
            FirstCutOfBarIsTrim = machine.FirstCutOfBarIsTrim,
            Stock = job => jobs.Find(job) is { } found ? StockShape.Of(found.Section) : StockShape.Unknown,
            BladeLengthMm = job => jobs.Find(job)?.Blade?.LengthMm ?? machine.BladeLengthMm ?? double.NaN,
        };
        var watch = new LiveWatch(machine);
        var (jobId, job) = ("", (CutJob?)null);
        var bytes = GC.GetAllocatedBytesForCurrentThread();
        var started = Stopwatch.GetTimestamp();
        foreach (ref readonly var frame in frames.AsSpan())
        {
            detector.Push(frame);
            while (detector.TryTake(out _))
            {
            }

            if (!watched)
                continue;
            if (detector.OpenJob != jobId)
                (jobId, job) = (detector.OpenJob, jobs.Find(detector.OpenJob));
            watch.Push(frame, new LiveContext(detector.OpenCycle, detector.IdleKw, detector.BottomMm, jobId, job));
            while (watch.TryTake(out _))
            {
            }
        }

        return (Stopwatch.GetElapsedTime(started).TotalNanoseconds / frames.Length, (double)(GC.GetAllocatedBytesForCurrentThread() - bytes) / frames.Length);
    }

    private static double Push(SignalFrame[] frames, SawMachine machine, JobBook jobs)
    {
        var pipeline = new SawPipeline(machine, jobs);
        var started = Stopwatch.GetTimestamp();
        foreach (ref readonly var frame in frames.AsSpan())
        {
            pipeline.Push(frame);
            while (pipeline.TryTake(out _))
            {
            }
        }

        return Stopwatch.GetElapsedTime(started).TotalNanoseconds / frames.Length;
    }

    private static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToArray();
        return sorted[sorted.Length / 2];
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
