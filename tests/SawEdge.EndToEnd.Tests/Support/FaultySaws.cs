using SawEdge.Core.Sections;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Saws;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>Virtual saws to which in 24 cycles everything happens that ends a cut in its own way.</summary>
internal static class FaultySaws
{
    private static readonly string[] Sections = ["round 100 mm", "rect 120 x 80 mm", "tube 90 mm x 5 mm wall", "round 40 mm"];

    /// <summary>Cycles to record.</summary>
    public const int Cycles = 24;

    /// <summary>The job list of all of them.</summary>
    public static string JobList => "job,material,section,part_length\n" + string.Concat(Sections.Select((section, i) => $"J{i},1045,{section},700 mm\n"));

    /// <summary>One saw a section.</summary>
    public static IEnumerable<VirtualSawOptions> Of(ulong seed) => Sections.Select((section, i) => new VirtualSawOptions
    {
        Machine = new MachineProfile { Name = $"saw-{seed}-{i}", CountDelayS = seed % 3 == 0 ? 1.5 : 0 },
        Jobs =
        [
            new VirtualJob
            {
                Id = $"J{i}",
                Section = SectionNotation.Parse(section).Section!,
                Material = new VirtualMaterial("1045", 1800, 0.25),
                RateCm2Min = 55,
                BladeSpeedMMin = 70,
                PartLengthMm = 700,
                Quantity = 1000,
            },
        ],
        Seed = seed,
        Start = SmallSaw.Start,
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
    });
}
