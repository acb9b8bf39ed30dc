using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;
using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Recordings;
using SawEdge.Simulator.Saws;

namespace SawEdge.Benchmarks.Detection;

/// <summary>Holds the cycle detector against the truth of virtual saws, over signals, sampling, sections and faults.</summary>
internal static class DetectionAccuracy
{
    private static readonly (string Name, Signal[] Signals)[] Mappings =
    [
        ("everything", [.. SignalInfo.All.Select(info => info.Signal)]),
        ("head, load", [Signal.HeadPosition, Signal.MotorLoad]),
        ("head, load, count", [Signal.HeadPosition, Signal.MotorLoad, Signal.PartCount]),
        ("cycle, load, count", [Signal.CycleActive, Signal.MotorLoad, Signal.PartCount]),
        ("cutting, load", [Signal.Cutting, Signal.MotorLoad]),
        ("cycle, head, load", [Signal.CycleActive, Signal.HeadPosition, Signal.MotorLoad]),
        ("cycle, load", [Signal.CycleActive, Signal.MotorLoad]),
    ];

    private static readonly string[] Sections = ["round 100 mm", "rect 120 x 80 mm", "tube 90 mm x 5 mm wall", "round 40 mm"];

    public static void Run(int seeds, bool verbose)
    {
        Console.WriteLine("signals              interval  cycles  found  extra  outcome right  contact p50/p99 ms  breakthrough p50/p99 ms  cut time mean/p99 error %");
        foreach (var (name, signals) in Mappings)
        {
            foreach (var interval in new[] { 0.1, 0.5, 1.0 })
                Row(name, signals, interval, seeds, verbose);
        }
    }

    private static void Row(string name, Signal[] signals, double interval, int seeds, bool verbose)
    {
        var contact = new List<double>();
        var through = new List<double>();
        var times = new List<double>();
        int cycles = 0, found = 0, extra = 0, right = 0;
        for (var seed = 1; seed <= seeds; seed++)
        {
            foreach (var section in Sections)
            {
                var saw = new VirtualSaw(Options(section, (ulong)seed, signals));
                var detector = new CycleDetector();
                var cuts = new List<Cut>();
                foreach (var frame in RecordingGenerator.Frames(saw, new RecordingOptions { Interval = TimeSpan.FromSeconds(interval), Cycles = 24 }))
                {
                    detector.Push(frame);
                    while (detector.TryTake(out var cut))
                        cuts.Add(cut);
                }

                detector.Complete();
                while (detector.TryTake(out var cut))
                    cuts.Add(cut);
                foreach (var truth in saw.TakeFinished())
                {
                    cycles++;
                    var match = cuts.FindIndex(cut => Overlap(cut, truth) > 0.5);
                    if (match < 0)
                    {
                        if (truth.Outcome is null)
                            cycles--;
                        else if (verbose)
                            Console.WriteLine($"   missed {section} seed {seed} cycle {truth.Cycle} {truth.Outcome} {string.Join(',', truth.Faults)} {truth.Started:HH:mm:ss.f}..{truth.Ended:HH:mm:ss.f}");
                        continue;
                    }

                    var cutFound = cuts[match];
                    cuts.RemoveAt(match);
                    found++;
                    var expected = truth.Outcome ?? CutOutcome.Aborted;
                    // A controller that restarts in the cut takes its signals away: what is seen of that is a cut that was interrupted.
                    if (truth.Faults.Contains("controller_restart"))
                        expected = CutOutcome.Interrupted;
                    if (cutFound.Outcome == expected || (cutFound.Outcome == CutOutcome.Completed && expected == CutOutcome.Trim && !signals.Contains(Signal.PartCount)))
                        right++;
                    else if (verbose)
                        Console.WriteLine($"   {section} seed {seed} cycle {truth.Cycle}: {cutFound.Outcome}, truth {truth.Outcome} [{string.Join(',', truth.Faults)}] {string.Join("; ", cutFound.Notes)} {truth.Started:HH:mm:ss.f}");
                    if (truth.Contact is { } c && cutFound.CutStartedAt is { } cf)
                        contact.Add((cf - c).TotalMilliseconds);
                    if ((truth.Breakthrough ?? truth.Left) is { } b && cutFound.CutEndedAt is { } bf && truth.BladeLost is null)
                        through.Add((bf - b).TotalMilliseconds);
                    if (truth.Breakthrough is not null && truth.CutTimeS is { } t && cutFound is { CutStartedAt: { } f0, CutEndedAt: { } f1 })
                    {
                        times.Add(((f1 - f0).TotalSeconds / t) - 1);
                        if (verbose && Math.Abs(times[^1]) > 0.05)
                            Console.WriteLine($"   {section} seed {seed} cycle {truth.Cycle}: cut time off {times[^1]:P1} [{string.Join(',', truth.Faults)}] contact {(cutFound.CutStartedAt - truth.Contact)?.TotalSeconds:0.00} through {(cutFound.CutEndedAt - truth.Breakthrough)?.TotalSeconds:0.00}");
                    }
                }

                extra += cuts.Count;
                if (verbose)
                {
                    foreach (var cut in cuts)
                        Console.WriteLine($"   extra {section} seed {seed} {cut.Outcome} {cut.StartedAt:HH:mm:ss.f}..{cut.EndedAt:HH:mm:ss.f} {string.Join("; ", cut.Notes)}");
                }
            }
        }

        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{name,-20} {interval,6:0.0} s {cycles,7} {found,6} {extra,6} {(double)right / Math.Max(1, found),12:P1}   {At(contact, 0.5),7:0}/{At(contact.Select(Math.Abs), 0.99),-7:0}   {At(through, 0.5),9:0}/{At(through.Select(Math.Abs), 0.99),-7:0}   {times.DefaultIfEmpty().Average(),12:P2}/{At(times.Select(Math.Abs), 0.99),-7:P2}"));
    }

    private static VirtualSawOptions Options(string section, ulong seed, Signal[] signals)
    {
        var parsed = SectionNotation.Parse(section).Section ?? throw new InvalidOperationException(section);
        return new VirtualSawOptions
        {
            Machine = new MachineProfile
            {
                Name = "S",
                CountDelayS = seed % 3 == 0 ? 1.5 : 0,
                CycleActiveInRun = seed % 4 == 2,
                BladeStopsBetweenCycles = seed % 5 != 3,
                CuttingBit = seed % 2 == 0 ? CuttingBit.InStock : CuttingBit.FeedStroke,
                CounterStart = seed % 6 == 5 ? 65_530 : 0,
                CounterLimit = 65_536,
            },
            Jobs =
            [
                new VirtualJob
                {
                    Id = "J1",
                    Section = parsed,
                    Material = new VirtualMaterial("C45", 1800, 0.25),
                    RateCm2Min = 55,
                    BladeSpeedMMin = 70,
                    PartLengthMm = 700,
                    Quantity = 1000,
                },
            ],
            Seed = seed,
            Start = new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero),
            Faults =
            [
                new FeedHold(FaultTrigger.AtCycle(4), 0.4, 25, seed % 2 == 0),
                new EmergencyStop(FaultTrigger.AtCycle(6), 0.5),
                new PartialCut(FaultTrigger.AtCycle(8), 0.6),
                new BladeBreak(FaultTrigger.AtCycle(11), 0.3),
                new Stall(FaultTrigger.AtCycle(13), 0.7),
                new NoStock(FaultTrigger.AtCycle(15)),
                new HardSpot(FaultTrigger.AtCycle(17), 0.5, 6, 0.5),
                new ControllerRestart(FaultTrigger.AtCycle(19), 20, 0.5),
                new DullBlade(FaultTrigger.Onward(20), 0.4, 3),
            ],
            Signals = signals.ToHashSet(),
        };
    }

    private static double Overlap(Cut cut, SawTruth truth)
    {
        var from = cut.StartedAt > truth.Started ? cut.StartedAt : truth.Started;
        var end = truth.Raised > truth.Ended ? truth.Raised.Value : truth.Ended;
        var to = cut.EndedAt < end ? cut.EndedAt : end;
        return (to - from).TotalSeconds / Math.Max(1, Math.Min((cut.EndedAt - cut.StartedAt).TotalSeconds, (end - truth.Started).TotalSeconds));
    }

    private static double At(IEnumerable<double> values, double share)
    {
        var sorted = values.Order().ToArray();
        return sorted.Length == 0 ? double.NaN : sorted[(int)(share * (sorted.Length - 1))];
    }
}
