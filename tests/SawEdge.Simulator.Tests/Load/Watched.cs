using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Load;

/// <summary>A virtual saw run through the whole pipeline: what the live watch and the cuts say, beside the truth.</summary>
internal sealed class Watched
{
    private Watched(VirtualSawOptions options, double interval, List<LiveFinding> findings, List<Cut> cuts, List<LiveFinding> inCuts, IReadOnlyList<SawTruth> truths) =>
        (Options, Interval, Findings, Cuts, InCuts, Truths) = (options, interval, findings, cuts, inCuts, truths);

    public VirtualSawOptions Options { get; }

    public double Interval { get; }

    public List<LiveFinding> Findings { get; }

    public List<Cut> Cuts { get; }

    /// <summary>The findings that came with the cuts.</summary>
    public List<LiveFinding> InCuts { get; }

    public IReadOnlyList<SawTruth> Truths { get; }

    public static Section Section(string notation) => SectionNotation.Parse(notation).Section ?? throw new ArgumentException(notation);

    /// <summary>A saw with noise; what differs from seed to seed is what differs from saw to saw.</summary>
    public static VirtualSawOptions Saw(string section, ulong seed, params Fault[] faults) => new()
    {
        Machine = new MachineProfile
        {
            Name = "S",
            CycleActiveInRun = seed % 4 == 2,
            BladeStopsBetweenCycles = seed % 2 == 0,
            BladeStartS = seed % 3 == 1 ? 1.8 : 0.8,
            CuttingBit = seed % 2 == 0 ? CuttingBit.InStock : CuttingBit.FeedStroke,
        },
        Jobs =
        [
            new VirtualJob
            {
                Id = "J-1",
                Section = Section(section),
                Material = new VirtualMaterial("C45", 1800, 0.25),
                RateCm2Min = 55,
                BladeSpeedMMin = 70,
                PartLengthMm = 700,
                Quantity = 1000,
            },
        ],
        Seed = seed,
        Start = Make.Start,
        Signals = seed % 3 == 0 ? new HashSet<Signal> { Signal.HeadPosition, Signal.MotorLoad, Signal.CycleActive, Signal.Job } : null,
        Faults = faults,
    };

    public static JobBook Jobs(string section) => JobBook.Parse($"job,material,section\nJ-1,C45,\"{section}\"\n", MaterialCatalogue.BuiltIn).Book;

    public static Watched Run(VirtualSawOptions options, JobBook jobs, double interval, int cycles)
    {
        var saw = new VirtualSaw(options);
        var pipeline = new SawPipeline(options.Machine.ToSawMachine(), jobs);
        var (findings, cuts, inCuts) = (new List<LiveFinding>(), new List<Cut>(), new List<LiveFinding>());
        void Take()
        {
            while (pipeline.TryTakeFinding(out var finding))
                findings.Add(finding);
            while (pipeline.TryTake(out var cut))
            {
                cuts.Add(cut.Evidence.Cut);
                inCuts.AddRange(cut.Evidence.Findings);
            }
        }

        foreach (var frame in RecordingGenerator.Frames(saw, new RecordingOptions { Interval = TimeSpan.FromSeconds(interval), Cycles = cycles }))
        {
            pipeline.Push(frame);
            Take();
        }

        pipeline.Complete();
        Take();
        return new Watched(options, interval, findings, cuts, inCuts, saw.TakeFinished());
    }

    /// <summary>The findings in the time of a cycle.</summary>
    public List<LiveFinding> In(SawTruth truth) => Findings.FindAll(finding => finding.At >= truth.Started && finding.At <= truth.Ended.AddSeconds(Interval));

    /// <summary>The same saw without noise of its signals, at the moments of a cycle 10 ms apart: head and load.</summary>
    public IEnumerable<(DateTimeOffset At, double Head, double Load)> Physics(SawTruth truth, DateTimeOffset from)
    {
        var noise = Options.Noise with { LoadKw = 0, LoadShare = 0, DriftShare = 0, HeadMm = 0, HeadStepMm = 0, LoadStepKw = 0 };
        var saw = new VirtualSaw(Options with { Noise = noise });
        while (saw.Truth.Cycle < truth.Cycle)
            saw.NextTurn();
        for (var at = from; at < truth.Ended; at = at.AddMilliseconds(10))
        {
            if (saw.TrySample(at, out var frame))
                yield return (at, frame.Number(Signal.HeadPosition), frame.Number(Signal.MotorLoad));
        }
    }
}
