using System.Diagnostics;
using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Sections;
using SawEdge.Gateway.Processing;

namespace SawEdge.Benchmarks.Score;

/// <summary>What the load score costs a finished cut, beside finding the cut in its frames; and how much of it is stored.</summary>
internal static class ScoreSpeed
{
    private const int Warm = 500;
    private const int Cuts = 2000;
    private const int Runs = 7;

    public static void Run(TextWriter output)
    {
        var saw = new VirtualCuts(jobs: 8);
        var evidence = saw.Evidence(Warm + Cuts + 100);
        if (evidence.Count < Warm + Cuts)
            throw new InvalidOperationException($"Only {evidence.Count} cuts were found.");
        var frames = saw.Frames(200).ToArray();
        Take(saw, evidence);
        Detect(saw, frames);

        // Side by side, run by run: other work on the machine hits both.
        var takes = new List<(double Microseconds, double Bytes)>();
        var saves = new List<(double Microseconds, double Bytes)>();
        var detects = new List<double>();
        for (var run = 0; run < Runs; run++)
        {
            takes.Add(Take(saw, evidence));
            saves.Add(Save(saw, evidence));
            detects.Add(Detect(saw, frames));
        }

        var take = Median(takes.Select(run => run.Microseconds));
        var detect = Median(detects);
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"one saw with 8 jobs, {Cuts} cuts after {Warm} that it learned from, median of {Runs} runs"));
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"record and load score of a finished cut: {take:0.0} us, {Median(takes.Select(run => run.Bytes)):N0} bytes"));
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"finding that cut in its {frames.Length / 200} frames (detector alone): {detect:0.0} us; the record with its score adds {take / detect:0.0 %}"));
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"writing down what was learned, once a cut: {Median(saves.Select(run => run.Microseconds)):0.0} us, {Median(saves.Select(run => run.Bytes)):N0} bytes allocated"));
        output.WriteLine("");
        Sizes(output);
    }

    private static void Sizes(TextWriter output)
    {
        output.WriteLine("stored a saw after 40 cuts of each job, bytes");
        output.WriteLine("jobs  load score  saw state  checkpoint (packed)");
        foreach (var jobs in new[] { 1, 8, 40 })
        {
            var saw = new VirtualCuts(jobs);
            var pipeline = new SawPipeline(saw.Machine, saw.Jobs);
            foreach (var frame in saw.Frames(jobs * 40))
            {
                pipeline.Push(frame);
                while (pipeline.TryTake(out _))
                {
                }
            }

            var memory = pipeline.Save();
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{jobs,4}  {memory.Recorder.Load.Length,10:N0}  {MemoryCodec.Encode(memory, 0, 0).Data.Length,9:N0}  {MemoryCodec.EncodeCheckpoint(memory.Recorder).Data.Length,10:N0}"));
        }
    }

    private static (double Microseconds, double Bytes) Take(VirtualCuts saw, List<CutEvidence> evidence)
    {
        var recorder = new CutRecorder(saw.Machine, new LoadSettings());
        for (var i = 0; i < Warm; i++)
            recorder.Take(evidence[i]);
        var bytes = GC.GetAllocatedBytesForCurrentThread();
        var started = Stopwatch.GetTimestamp();
        for (var i = Warm; i < Warm + Cuts; i++)
            recorder.Take(evidence[i]);
        return (Stopwatch.GetElapsedTime(started).TotalMicroseconds / Cuts, (double)(GC.GetAllocatedBytesForCurrentThread() - bytes) / Cuts);
    }

    private static (double Microseconds, double Bytes) Save(VirtualCuts saw, List<CutEvidence> evidence)
    {
        const int Times = 200;
        var pipeline = new SawPipeline(saw.Machine, saw.Jobs);
        for (var i = 0; i < Warm; i++)
            pipeline.Recorder.Take(evidence[i]);
        MemoryCodec.Encode(pipeline.Save(), 0, 0);
        var bytes = GC.GetAllocatedBytesForCurrentThread();
        var started = Stopwatch.GetTimestamp();
        for (var i = 0; i < Times; i++)
            MemoryCodec.Encode(pipeline.Save(), 0, 0);
        return (Stopwatch.GetElapsedTime(started).TotalMicroseconds / Times, (double)(GC.GetAllocatedBytesForCurrentThread() - bytes) / Times);
    }

    // Microseconds a cut.
    private static double Detect(VirtualCuts saw, Core.Signals.SignalFrame[] frames)
    {
        // As the pipeline builds it.
        var detector = new CycleDetector
        {
            FirstCutOfBarIsTrim = saw.Machine.FirstCutOfBarIsTrim,
            Stock = job => saw.Jobs.Find(job) is { } found ? StockShape.Of(found.Section) : StockShape.Unknown,
            BladeLengthMm = job => saw.Jobs.Find(job)?.Blade?.LengthMm ?? saw.Machine.BladeLengthMm ?? double.NaN,
        };
        var cuts = 0;
        var started = Stopwatch.GetTimestamp();
        foreach (ref readonly var frame in frames.AsSpan())
        {
            detector.Push(frame);
            if (detector.TryTake(out _))
                cuts++;
        }

        return Stopwatch.GetElapsedTime(started).TotalMicroseconds / cuts;
    }

    private static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToArray();
        return sorted[sorted.Length / 2];
    }
}
