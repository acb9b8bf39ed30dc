using SawEdge.Core.Sections;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests;

/// <summary>Saws for the tests, quiet unless a test wants noise.</summary>
internal static class Make
{
    public static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    /// <summary>Steel with a force that does not depend on the feed, so that energy is force times volume.</summary>
    public static readonly VirtualMaterial FlatForce = new("test steel", 4000, 0);

    public static readonly VirtualMaterial Steel = new("test steel", 1700, 0.25);

    /// <summary>A blade that does not wear.</summary>
    public static readonly BladeModel Everlasting = new() { SteadyRise = 0, EndRise = 0, LifeM2 = 1e9 };

    public static VirtualJob Job(Section? section = null, VirtualMaterial? material = null) => new()
    {
        Id = "J-100",
        Section = section ?? SectionFactory.Round(100),
        Material = material ?? Steel,
        RateCm2Min = 60,
        BladeSpeedMMin = 70,
        PartLengthMm = 250,
        Quantity = 1000,
        BarLengthMm = 3000,
    };

    public static VirtualSawOptions Quiet(Section? section = null, VirtualMaterial? material = null, params Fault[] faults) => new()
    {
        Machine = new MachineProfile { Name = "saw-1" },
        Jobs = [Job(section, material)],
        Seed = 7,
        Start = Start,
        Blade = Everlasting,
        Noise = NoiseModel.None,
        Work = new WorkPattern { StopChance = 0 },
        Faults = faults,
    };

    /// <summary>The saw in the turn of a cycle.</summary>
    public static VirtualSaw AtCycle(VirtualSawOptions options, long cycle)
    {
        var saw = new VirtualSaw(options);
        while (saw.Truth.Cycle < cycle)
            saw.NextTurn();
        return saw;
    }

    public static VirtualSaw AtCycle(long cycle, params Fault[] faults) => AtCycle(Quiet(faults: faults), cycle);
}
