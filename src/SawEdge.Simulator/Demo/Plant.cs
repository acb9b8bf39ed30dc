using System.Globalization;
using System.Text;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Demo;

/// <summary>How a saw of the plant is reached.</summary>
public enum PlantLink
{
    /// <summary>A unit of the plant's Modbus TCP device.</summary>
    Modbus,

    /// <summary>One JSON payload a frame at an MQTT broker.</summary>
    Mqtt,
}

/// <summary>One saw of the plant.</summary>
/// <param name="Options">The virtual saw.</param>
/// <param name="Blade">Its blades, in the notation of the job list.</param>
/// <param name="Link">How it is reached.</param>
/// <param name="Unit">Unit identifier; only with Modbus.</param>
/// <param name="Layout">Register layout; only with Modbus.</param>
/// <param name="Topic">Topic; only with MQTT.</param>
public sealed record PlantSaw(VirtualSawOptions Options, string Blade, PlantLink Link, byte Unit, RegisterLayout? Layout, string? Topic)
{
    /// <summary>Name of the saw.</summary>
    public string Name => Options.Machine.Name;
}

/// <summary>
/// The demo's plant: the Ostrey Bight section works, which is invented, as are its saws and jobs. Three saws: one that cuts
/// rounds and one that cuts tubes, both over Modbus TCP with different register layouts, and one that cuts flats and
/// publishes over MQTT. Rates and speeds are the catalogue's, met a little better or worse by each saw.
/// </summary>
public sealed class Plant
{
    private const string Coarse = "bimetal 3/4 tpi, kerf 1.6 mm";
    private const string Fine = "bimetal 4/6 tpi, kerf 1.5 mm";

    private Plant(DateTimeOffset start, IReadOnlyList<PlantSaw> saws) => (Start, Saws) = (start, saws);

    /// <summary>Name of the plant.</summary>
    public string Site { get; } = "Ostrey Bight";

    /// <summary>Virtual time at which it starts.</summary>
    public DateTimeOffset Start { get; }

    /// <summary>Its saws.</summary>
    public IReadOnlyList<PlantSaw> Saws { get; }

    /// <summary>Virtual seconds in a second of the wall clock at which finished cuts come every few seconds.</summary>
    public double SuggestedSpeed { get; } = 10;

    /// <summary>Time between frames, in virtual time, that suits it.</summary>
    public TimeSpan SuggestedInterval { get; } = TimeSpan.FromMilliseconds(200);

    /// <summary>The job list in the format of the gateway's job book.</summary>
    public string JobList
    {
        get
        {
            var text = new StringBuilder("job,material,section,part_length,pieces,blade\n");
            foreach (var saw in Saws)
            {
                foreach (var job in saw.Options.Jobs)
                {
                    text.Append(
                        CultureInfo.InvariantCulture,
                        $"{job.Id},{job.Material.Name},\"{job.Section.Notation}\",{job.PartLengthMm} mm,{job.Quantity},\"{saw.Blade}\"\n");
                }
            }

            return text.ToString();
        }
    }

    // Soon enough that a demo of a minute shows an alarm.
    private static Fault[] NorthFaults =>
    [
        new NoStock(FaultTrigger.AtCycle(3)),
        new HardSpot(FaultTrigger.AtCycle(7), 0.55, 6, 0.9),
        new DullBlade(FaultTrigger.AtCycle(14, 20), 0.45, 10),
    ];

    private static Fault[] QuayFaults =>
    [
        new FeedHold(FaultTrigger.AtCycle(4), 0.4, 15),
        new StarvedFeed(FaultTrigger.AtCycle(12, 3), 0.35),
    ];

    private static Fault[] YardFaults =>
    [
        new PartialCut(FaultTrigger.AtCycle(5), 0.4),
        new EmergencyStop(FaultTrigger.AtCycle(9), 0.5, 45),
    ];

    /// <summary>Builds the plant.</summary>
    /// <param name="start">Virtual time at which it starts.</param>
    /// <param name="seed">Seed of everything that scatters.</param>
    /// <param name="withFaults">Whether something goes wrong now and then: no stock, a feed hold, a hard spot, a dulling blade, an emergency stop, starved feed.</param>
    public static Plant Create(DateTimeOffset start, ulong seed = 20_260_302, bool withFaults = true)
    {
        var north = Saw(
            new MachineProfile { Name = "north", CountDelayS = 0.5 },
            Coarse, 1.02, seed + 1, start, "N", withFaults ? NorthFaults : [],
            ("OB-1180", "4140", "round 80 mm", 180, 14), ("OB-1184", "1045", "round 60 mm", 320, 20));
        var quay = Saw(
            new MachineProfile
            {
                Name = "quay",
                RatedPowerKw = 3,
                BladeLengthMm = 4100,
                RestHeightMm = 260,
                IdleBaseKw = 0.3,
                InrushKw = 4.5,
                IndexStrokeS = 4,
                BladeStopsBetweenCycles = false,
                CounterStart = 65_530,
                CounterLimit = 65_536,
            },
            Fine, 0.97, seed + 2, start, "Q", withFaults ? QuayFaults : [],
            ("OB-2031", "S355J2", "tube 114.3 x 6.3 mm wall", 740, 16), ("OB-2035", "S235JR", "rect tube 100 x 60 x 5 mm wall", 1150, 12));
        var yard = Saw(
            new MachineProfile
            {
                Name = "yard",
                RatedPowerKw = 5.5,
                BladeLengthMm = 5200,
                RestHeightMm = 380,
                IdleBaseKw = 0.45,
                CuttingBit = CuttingBit.InStock,
                BladeStartS = 1.5,
            },
            Coarse, 0.93, seed + 3, start, "Y", withFaults ? YardFaults : [],
            ("OB-3302", "S355J2", "rect 120 x 30 mm", 260, 18), ("OB-3307", "304", "rect 60 x 40 mm", 200, 8));
        return new(start,
        [
            new(north, Coarse, PlantLink.Modbus, 1, RegisterLayout.Plain, null),
            new(quay, Fine, PlantLink.Modbus, 2, RegisterLayout.Packed(quay.Machine.RatedPowerKw), null),
            new(yard, Coarse, PlantLink.Mqtt, 0, null, "ostrey-bight/saws/yard"),
        ]);
    }

    private static VirtualSawOptions Saw(
        MachineProfile machine, string bladeNotation, double pace, ulong seed, DateTimeOffset start, string prefix, IReadOnlyList<Fault> faults, params (string Id, string Material, string Section, double LengthMm, int Quantity)[] jobs)
    {
        var blade = Blade.Parse(bladeNotation, out var problem) ?? throw new InvalidOperationException(problem);
        machine = machine with { ToothPitchMm = blade.PitchMm, KerfMm = blade.KerfMm };
        return new VirtualSawOptions
        {
            Machine = machine,
            Jobs = [.. jobs.Select(job => Job(machine, blade, pace, job))],
            Seed = seed,
            Start = start,
            Blade = new BladeModel { StartAreaM2 = 0.8 },
            // Waits are short, so that a demo of minutes shows a plant at work.
            Work = new WorkPattern { StopChance = 0.03, StopS = 60, BarChangeS = 40, JobChangeS = 120, BladeChangeS = 300 },
            Faults = faults,
            IdPrefix = prefix,
        };
    }

    private static VirtualJob Job(MachineProfile machine, Blade blade, double pace, (string Id, string Material, string Section, double LengthMm, int Quantity) job)
    {
        var material = MaterialCatalogue.BuiltIn.Find(job.Material) ?? throw new InvalidOperationException($"The catalogue lacks {job.Material}.");
        var parse = SectionNotation.Parse(job.Section);
        var section = parse.Section ?? throw new InvalidOperationException(parse.Problem);
        var cut = new CutJob { JobId = job.Id, Material = material, Section = section, Blade = blade };
        return new VirtualJob
        {
            Id = job.Id,
            Section = section,
            Material = new VirtualMaterial(material.Name, material.Kc11NMm2.Value, material.Mc.Value),
            RateCm2Min = CuttingModel.Standard(cut, machine.ToSawMachine()).RateCm2Min * pace,
            BladeSpeedMMin = Math.Round(CuttingModel.RecommendedSpeedMMin(cut, blade)),
            PartLengthMm = job.LengthMm,
            Quantity = job.Quantity,
        };
    }
}
