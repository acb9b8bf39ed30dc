using System.Text;
using SawEdge.Core.Cutting;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Saws;

namespace SawEdge.TestPlant;

/// <summary>
/// The saws of plant Riverbend, which is invented as all that it makes: one cuts rounds, one tubes, one flats under names that are meant to
/// do harm. Two shifts a day; over the days things go wrong.
/// </summary>
internal static class PlantSaws
{
    private const string Coarse = "bimetal 3/4 tpi, kerf 1.6 mm";
    private const string Fine = "bimetal 4/6 tpi, kerf 1.5 mm";

    /// <summary>How long the plant works a day.</summary>
    public static readonly TimeSpan Working = TimeSpan.FromHours(16);

    private static readonly PlantJob[] Rounds =
    [
        new("RB-1180", "4140", "round 140 mm", 180, 30),
        new("RB-1184", "1045", "round 100 mm", 320, 45),
        new("RB-1190", "304", "round 90 mm", 90, 20),
    ];

    private static readonly PlantJob[] Tubes =
    [
        new("RB-2031", "S355J2", "tube 168.3 x 10 mm wall", 740, 28),
        new("RB-2035", "S235JR", "rect tube 140 x 80 x 8 mm wall", 1150, 22),
    ];

    private static readonly PlantJob[] Flats =
        [.. PlantJob.HostileNames.Select((name, i) => new PlantJob(name, i % 2 == 0 ? "S355J2" : "1045", i % 2 == 0 ? "rect 120 x 90 mm" : "rect 100 x 70 mm", 200 + (20 * i), 14))];

    /// <summary>Names of the saws, with the group of each.</summary>
    public static IReadOnlyList<(string Name, string Group)> Names { get; } = [("saw-1", "bay-a"), ("saw-2", "bay-a"), ("saw-3", "bay-b")];

    /// <summary>The job list.</summary>
    public static string JobList
    {
        get
        {
            var text = new StringBuilder("job,material,section,part_length,pieces,blade\n");
            foreach (var (jobs, blade) in new[] { (Rounds, Coarse), (Tubes, Fine), (Flats, Coarse) })
                text.AppendJoin("", jobs.Select(job => job.Row(blade)));
            return text.ToString();
        }
    }

    /// <summary>Sets the saws up.</summary>
    /// <param name="start">Midnight before the first day, by the clock of the plant.</param>
    /// <param name="shiftStart">When the first shift of a day begins, UTC.</param>
    /// <param name="end">When the history ends.</param>
    /// <param name="seed">Seed of everything that scatters.</param>
    public static IReadOnlyList<VirtualSawOptions> Make(DateTimeOffset start, TimeOnly shiftStart, DateTimeOffset end, ulong seed) =>
    [
        Saw(new MachineProfile { Name = "saw-1", CountDelayS = 0.5 }, Coarse, 1.02, Rounds, new BladeModel { StartAreaM2 = 3, LifeM2 = 6 }, start, shiftStart, seed + 1,
        [
            new NoStock(FaultTrigger.AtTime(start.AddHours(8))),
            new FeedHold(FaultTrigger.AtTime(start.AddHours(9.5), 2), 0.4, 70),
            new HardSpot(FaultTrigger.AtTime(start.AddHours(31), 3), 0.55, 8, 1.2),
            new BladeBreak(FaultTrigger.AtTime(start.AddHours(35)), 0.5),
            new Stall(FaultTrigger.AtTime(end.AddHours(-1)), 0.6),
        ]),
        Saw(
            new MachineProfile { Name = "saw-2", RatedPowerKw = 3, BladeLengthMm = 4100, RestHeightMm = 260, IdleBaseKw = 0.3, InrushKw = 4.5, IndexStrokeS = 4, BladeStopsBetweenCycles = false, CounterStart = 65_000, CounterLimit = 65_536 },
            Fine, 0.97, Tubes, new BladeModel { StartAreaM2 = 2, LifeM2 = 5 }, start, shiftStart, seed + 2,
        [
            new StarvedFeed(FaultTrigger.AtTime(start.AddHours(12), 12), 0.4),
            new ControllerRestart(FaultTrigger.AtTime(start.AddHours(34.5)), 40 * 60),
            new GuideDrag(FaultTrigger.AtTime(start.AddHours(57), 20), 0.5),
            new WrongGrade(FaultTrigger.AtTime(end.AddHours(-2), 8), 1.6),
        ]),
        Saw(
            new MachineProfile { Name = "saw-3", RatedPowerKw = 5.5, BladeLengthMm = 5200, RestHeightMm = 380, IdleBaseKw = 0.45, CuttingBit = CuttingBit.InStock, BladeStartS = 1.5 },
            Coarse, 0.93, Flats, new BladeModel { StartAreaM2 = 2, LifeM2 = 7 }, start, shiftStart, seed + 3,
        [
            new PartialCut(FaultTrigger.AtTime(start.AddHours(10)), 0.4),
            new EmergencyStop(FaultTrigger.AtTime(start.AddHours(15)), 0.5, 900),
            new StrippedTeeth(FaultTrigger.AtTime(start.AddHours(55), 10), 0.15, 0.9),

            // Still standing when the history ends.
            new EmergencyStop(FaultTrigger.AtTime(end.AddMinutes(-25)), 0.5, 7200),
        ]),
    ];

    private static VirtualSawOptions Saw(
        MachineProfile machine, string bladeNotation, double pace, IReadOnlyList<PlantJob> jobs, BladeModel wear, DateTimeOffset start, TimeOnly shiftStart, ulong seed, IReadOnlyList<Fault> faults)
    {
        var blade = Blade.Parse(bladeNotation, out var problem) ?? throw new InvalidOperationException(problem);
        machine = machine with { ToothPitchMm = blade.PitchMm, KerfMm = blade.KerfMm };
        return new VirtualSawOptions
        {
            Machine = machine,
            Jobs = [.. jobs.Select(job => job.For(machine, blade, pace))],
            Seed = seed,
            Start = start,
            Blade = wear,

            // The transducer's lag is most of the work of a virtual saw, and nobody sees it at one frame a second.
            Noise = new NoiseModel { TransducerLagS = 0 },
            Work = new WorkPattern { StopChance = 0.03, StopS = 420, BarChangeS = 60, JobChangeS = 300, BladeChangeS = 900, ShiftStart = shiftStart, ShiftLength = Working, FreeWeekends = false },
            Faults = faults,
            IdPrefix = $"{machine.Name}-",
        };
    }
}
