using SawEdge.Core.Sections;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Saws;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>A quick virtual saw on flat bar: a cut of four seconds in a cycle of nine, so that tests can run in real time.</summary>
internal static class SmallSaw
{
    public const string Job = "TQ-17";

    /// <summary>Area of the section over the cutting rate of the job list: 40 mm x 10 mm at 60 cm2/min.</summary>
    public const double StandardCutS = 4.0 * 60 / 60;

    /// <summary>Height of the stock, mm.</summary>
    public const double HeightMm = 10;

    public static readonly DateTimeOffset Start = new(2026, 3, 2, 6, 0, 0, TimeSpan.Zero);

    /// <summary>The job list of the gateway.</summary>
    public static readonly string JobList = $"job,material,section,part_length,standard\n{Job},1045,rect 40 x 10 mm,120 mm,60 cm2/min\n";

    /// <summary>One saw.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="seed">Seed of everything that scatters.</param>
    /// <param name="faults">What goes wrong.</param>
    public static VirtualSawOptions Named(string name, ulong seed, params Fault[] faults) => new()
    {
        Machine = new MachineProfile
        {
            Name = name,
            RestHeightMm = 45,
            IndexStrokeS = 0.6,
            ClampS = 0.3,
            UnclampS = 0.3,
            BladeStartS = 0.4,
            CounterStart = 1200,
        },
        Jobs =
        [
            new VirtualJob
            {
                Id = Job,
                Section = SectionFactory.Rectangle(40, 10),
                Material = new VirtualMaterial("1045", 1800, 0.25),
                RateCm2Min = 58,
                BladeSpeedMMin = 70,
                PartLengthMm = 120,
                Quantity = 10_000,
                TrimLengthMm = 0,
            },
        ],
        Seed = seed,
        Start = Start,
        Work = new WorkPattern { LeastWaitS = 1.5, ExtraWaitS = 0, StopChance = 0, BarChangeS = 0 },
        Faults = faults,
        IdPrefix = "Q",
    };
}
