using System.Diagnostics;
using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Demo;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Benchmarks.Alarms;

/// <summary>Rules evaluated a second on one core, what they allocate a frame, and what they take beside the pipeline.</summary>
internal static class RuleSpeed
{
    private const int Runs = 15;

    public static void Run(TextWriter to)
    {
        var plant = Plant.Create(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero), withFaults: false);
        var saw = plant.Saws[0];
        var frames = RecordingGenerator.Frames(new VirtualSaw(saw.Options), new RecordingOptions { Interval = TimeSpan.FromMilliseconds(100), Cycles = 60 }).ToArray();
        var jobs = JobBook.Parse(plant.JobList, MaterialCatalogue.BuiltIn).Book;
        var machine = saw.Options.Machine.ToSawMachine();
        var seen = Pipeline(frames, machine, jobs).Seen;

        // Side by side, so that other work on the machine hits all of them; the fastest run is the one that it hit least.
        var sets = Sets().ToArray();
        var (pipeline, fastest) = (double.PositiveInfinity, Enumerable.Repeat((Nanoseconds: double.PositiveInfinity, Bytes: 0L, Changes: 0), sets.Length).ToArray());
        for (var run = 0; run < Runs; run++)
        {
            pipeline = Math.Min(pipeline, Pipeline(frames, machine, jobs).Nanoseconds);
            for (var i = 0; i < sets.Length; i++)
            {
                var measured = Rules(frames, seen, sets[i].Rules);
                if (measured.Nanoseconds < fastest[i].Nanoseconds)
                    fastest[i] = measured;
            }
        }

        to.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{frames.Length:N0} frames of a saw at 10 Hz, everything mapped, one thread; fastest of {Runs} runs"));
        to.WriteLine(string.Create(CultureInfo.InvariantCulture, $"SawPipeline alone: {pipeline:0} ns a frame"));
        for (var i = 0; i < sets.Length; i++)
        {
            var evaluated = sets[i].Rules.Count(rule => rule.Variable.Topic == AlarmTopic.Signal);
            var (nanoseconds, bytes, changes) = fastest[i];
            to.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{sets[i].Name}: {nanoseconds:0} ns a frame = {evaluated * 1e9 / nanoseconds:N0} rules a second on each core; {(double)bytes / frames.Length:0.###} bytes a frame ({changes} changes told in all); {nanoseconds / pipeline:0.000} of the pipeline's time"));
        }
    }

    private static IEnumerable<(string Name, IReadOnlyList<AlarmRule> Rules)> Sets()
    {
        yield return ("the default rules (1 looks at each frame)", DefaultRules.All);
        yield return ("10 signal rules", Signals(10, SawStates.Any));
        yield return ("100 signal rules", Signals(100, SawStates.Any));
        yield return ("100 signal rules that hold in the cut only", Signals(100, SawStates.Cutting));
    }

    // Numbers that the saw never reaches, so that each frame is looked at and hardly anything told; and texts.
    private static AlarmRule[] Signals(int count, SawStates states) =>
    [
        .. Enumerable.Range(0, count).Select(i => (i % 4) switch
        {
            0 => Rule(i, "motor_load", new AlarmTest { Comparison = AlarmComparison.Above, Limit = 1000 + i, ClearLimit = 900 + i }, states),
            1 => Rule(i, "head_position", new AlarmTest { Comparison = AlarmComparison.Below, Limit = -1000 - i, ClearLimit = -900 - i }, states),
            2 => Rule(i, "fault_code", new AlarmTest { Comparison = AlarmComparison.Above, Limit = i, ClearLimit = i }, states),
            _ => Rule(i, "mode", new AlarmTest { Comparison = AlarmComparison.Is, Words = ["manual", "setup"] }, states),
        }),
    ];

    private static AlarmRule Rule(int number, string signal, AlarmTest test, SawStates states) => new()
    {
        Name = string.Create(CultureInfo.InvariantCulture, $"rule_{number}"),
        Variable = AlarmVariables.Of(AlarmTopic.Signal, signal),
        Test = test,
        Text = AlarmTemplate.Parse("{saw}: {value}"),
        OnDelay = TimeSpan.FromSeconds(number % 5),
        OffDelay = TimeSpan.FromSeconds(1),
        While = states,
    };

    private static (double Nanoseconds, (CyclePhase Phase, double IdleKw)[] Seen) Pipeline(SignalFrame[] frames, SawMachine machine, JobBook jobs)
    {
        var pipeline = new SawPipeline(machine, jobs);
        var seen = new (CyclePhase, double)[frames.Length];
        var started = Stopwatch.GetTimestamp();
        for (var i = 0; i < frames.Length; i++)
        {
            pipeline.Push(frames[i]);
            seen[i] = (pipeline.Phase, pipeline.IdleKw);
            while (pipeline.TryTake(out _))
            {
            }
        }

        return (Stopwatch.GetElapsedTime(started).TotalNanoseconds / frames.Length, seen);
    }

    private static (double Nanoseconds, long Bytes, int Changes) Rules(SignalFrame[] frames, (CyclePhase Phase, double IdleKw)[] seen, IReadOnlyList<AlarmRule> rules)
    {
        var watch = new SawAlarmWatch("saw", rules);
        var changes = 0;
        var bytes = GC.GetAllocatedBytesForCurrentThread();
        var started = Stopwatch.GetTimestamp();
        for (var i = 0; i < frames.Length; i++)
        {
            watch.Push(frames[i], seen[i].Phase, seen[i].IdleKw);
            while (watch.TryTake(out _))
                changes++;
        }

        return (Stopwatch.GetElapsedTime(started).TotalNanoseconds / frames.Length, GC.GetAllocatedBytesForCurrentThread() - bytes, changes);
    }
}
