using SawEdge.Core.Cutting;

namespace SawEdge.Simulator.Saws;

/// <summary>When the controller sets its cutting bit.</summary>
public enum CuttingBit
{
    /// <summary>From the end of the rapid approach to the lower end of the stroke: a few mm of air before and after the stock. The usual way.</summary>
    FeedStroke,

    /// <summary>Only while the blade is in the stock, as with a contact sensor.</summary>
    InStock,
}

/// <summary>One virtual machine. The defaults are an invented saw of a middling size; all are common practice, no source.</summary>
public sealed record MachineProfile
{
    /// <summary>Name of the saw.</summary>
    public required string Name { get; init; }

    /// <summary>Rated power of the blade motor, kW.</summary>
    public double RatedPowerKw { get; init; } = 4;

    /// <summary>Share of motor power that reaches the blade, 0..1.</summary>
    public double DriveEfficiency { get; init; } = 0.8;

    /// <summary>Length of the blade loop, mm.</summary>
    public double BladeLengthMm { get; init; } = 4670;

    /// <summary>Mean tooth pitch, mm; 25.4 / teeth per inch.</summary>
    public double ToothPitchMm { get; init; } = 25.4 / 3;

    /// <summary>Kerf, mm.</summary>
    public double KerfMm { get; init; } = 1.6;

    /// <summary>Greatest descent rate while feeding, mm/min; also the rate in air and below the stock.</summary>
    public double MaximumDescentMmMin { get; init; } = 180;

    /// <summary>Greatest mean feed per tooth that the feed control allows, mm.</summary>
    public double MaximumFeedPerToothMm { get; init; } = 0.03;

    /// <summary>Head height at rest, above the table, mm.</summary>
    public double RestHeightMm { get; init; } = 320;

    /// <summary>Rapid approach rate, mm/min.</summary>
    public double ApproachMmMin { get; init; } = 3000;

    /// <summary>Height above the stock at which the rapid approach ends, mm.</summary>
    public double RapidGapMm { get; init; } = 4;

    /// <summary>How far below the table the feed stroke ends, mm.</summary>
    public double OvertravelMm { get; init; } = 4;

    /// <summary>Return rate, mm/min.</summary>
    public double ReturnMmMin { get; init; } = 4500;

    /// <summary>Greatest length of one shuttle stroke, mm.</summary>
    public double ShuttleStrokeMm { get; init; } = 500;

    /// <summary>Time of one shuttle stroke, s.</summary>
    public double IndexStrokeS { get; init; } = 5;

    /// <summary>Time to clamp, s.</summary>
    public double ClampS { get; init; } = 1.5;

    /// <summary>Time to unclamp, s.</summary>
    public double UnclampS { get; init; } = 1;

    /// <summary>Whether the blade stops after each cycle, so that each begins with an inrush; otherwise it stops in long waits only.</summary>
    public bool BladeStopsBetweenCycles { get; init; } = true;

    /// <summary>Time in which the blade comes up to speed, s: 0.3 to 2 on real saws.</summary>
    public double BladeStartS { get; init; } = 0.8;

    /// <summary>Motor power above idle at the peak of the inrush, kW.</summary>
    public double InrushKw { get; init; } = 6;

    /// <summary>Idle power at blade speed 0, kW: a in P0 = a + c * vb.</summary>
    public double IdleBaseKw { get; init; } = 0.35;

    /// <summary>Rise of idle power with blade speed, kW per m/min: c in P0 = a + c * vb.</summary>
    public double IdleSlopeKwPerMMin { get; init; } = 0.006;

    /// <summary>When the cutting bit is set.</summary>
    public CuttingBit CuttingBit { get; init; } = CuttingBit.FeedStroke;

    /// <summary>Whether cycle_active stays set between the cycles of a run, and falls only when the saw is stopped or set up; otherwise it falls after each.</summary>
    public bool CycleActiveInRun { get; init; }

    /// <summary>From the end of the feed stroke to the step of the part counter, s; 0 to 10.</summary>
    public double CountDelayS { get; init; }

    /// <summary>The part counter at the beginning.</summary>
    public long CounterStart { get; init; }

    /// <summary>The part counter starts again at 0 when it reaches this.</summary>
    public long CounterLimit { get; init; } = 1L << 32;

    /// <summary>Idle power at a blade speed, kW.</summary>
    public double IdleKw(double bladeSpeedMMin) => IdleBaseKw + (IdleSlopeKwPerMMin * bladeSpeedMMin);

    /// <summary>What a person would enter about this machine.</summary>
    public SawMachine ToSawMachine() => new()
    {
        Name = Name,
        RatedPowerKw = RatedPowerKw,
        DriveEfficiency = DriveEfficiency,
        BladeLengthMm = BladeLengthMm,
        MaximumDescentMmMin = MaximumDescentMmMin,
        RestHeightMm = RestHeightMm,
        ApproachMmMin = ApproachMmMin,
        ReturnMmMin = ReturnMmMin,
        ShuttleStrokeMm = ShuttleStrokeMm,
        IndexStrokeS = IndexStrokeS,
        ClampS = ClampS,
        UnclampS = UnclampS,
        FirstCutOfBarIsTrim = true,
    };
}
