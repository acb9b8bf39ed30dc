using SawEdge.Core.Cycles;

namespace SawEdge.Core;

/// <summary>
/// One finished cycle with everything that was computed of it: the row of the history, of the export and of every
/// destination. A value that is not known is null (text: empty). Times are UTC, rounded to the millisecond.
/// </summary>
public sealed record CycleRecord
{
    /// <summary>Stable identity: the same input gives the same identifier, whenever and wherever it is computed.</summary>
    public required string CycleId { get; init; }

    /// <summary>Name of the saw.</summary>
    public required string Saw { get; init; }

    /// <summary>Start of the cycle.</summary>
    public required DateTimeOffset StartedAt { get; init; }

    /// <summary>First contact of blade and stock, interpolated between frames; null where it was not seen.</summary>
    public DateTimeOffset? CutStartedAt { get; init; }

    /// <summary>Breakthrough, or the moment the cut was left, interpolated between frames; null where it was not seen.</summary>
    public DateTimeOffset? CutEndedAt { get; init; }

    /// <summary>End of the cycle, or of what was seen of it.</summary>
    public required DateTimeOffset EndedAt { get; init; }

    /// <summary>How the cut ended.</summary>
    public required CutOutcome Outcome { get; init; }

    /// <summary>Mode of operation at the controller.</summary>
    public string Mode { get; init; } = "";

    /// <summary>The job's identifier at the controller.</summary>
    public string Job { get; init; } = "";

    /// <summary>Material of the job.</summary>
    public string Material { get; init; } = "";

    /// <summary>Section of the job in short notation.</summary>
    public string Section { get; init; } = "";

    /// <summary>Part length, mm.</summary>
    public double? PartLengthMm { get; init; }

    /// <summary>Identity of the blade.</summary>
    public string Blade { get; init; } = "";

    /// <summary>Area of cut, cm2.</summary>
    public double? CutAreaCm2 { get; init; }

    /// <summary>Time from contact to breakthrough, s, feed holds included.</summary>
    public double? CutTimeS { get; init; }

    /// <summary>Standard cut time, s: the catalogue's or the plant's own; never learned.</summary>
    public double? StandardCutTimeS { get; init; }

    /// <summary>Learned cut time, s.</summary>
    public double? LearnedCutTimeS { get; init; }

    /// <summary>Lower end of the learned time's prediction interval, s.</summary>
    public double? LearnedLowS { get; init; }

    /// <summary>Upper end of the learned time's prediction interval, s.</summary>
    public double? LearnedHighS { get; init; }

    /// <summary>Cut time divided by standard cut time.</summary>
    public double? CutTimeRatio { get; init; }

    /// <summary>Time from the start to the end of the cycle, s.</summary>
    public double? CycleTimeS { get; init; }

    /// <summary>Standard cycle time, s: standard cut time and handling.</summary>
    public double? StandardCycleTimeS { get; init; }

    /// <summary>Area of cut divided by cut time, cm2/min.</summary>
    public double? CuttingRateCm2Min { get; init; }

    /// <summary>Depth of cut divided by cut time, mm/min.</summary>
    public double? MeanDescentMmMin { get; init; }

    /// <summary>Time-weighted mean motor load in the cut, kW.</summary>
    public double? MeanLoadKw { get; init; }

    /// <summary>Greatest motor load in the cut, kW.</summary>
    public double? PeakLoadKw { get; init; }

    /// <summary>Motor load with the blade running in air, kW.</summary>
    public double? IdleLoadKw { get; init; }

    /// <summary>Net energy of the cut, kJ: the integral of load above idle from contact to breakthrough.</summary>
    public double? CuttingEnergyKj { get; init; }

    /// <summary>Net energy per volume removed, J/mm3.</summary>
    public double? SpecificEnergyJMm3 { get; init; }

    /// <summary>Time-weighted mean blade speed in the cut, m/min.</summary>
    public double? MeanBladeSpeedMMin { get; init; }

    /// <summary>Load score: -log10 of the share of normal cuts that look this odd.</summary>
    public double? LoadScore { get; init; }

    /// <summary>Score of the level view alone.</summary>
    public double? ScoreLevel { get; init; }

    /// <summary>Score of the shape view alone.</summary>
    public double? ScoreShape { get; init; }

    /// <summary>Score of the pace view alone.</summary>
    public double? ScorePace { get; init; }

    /// <summary>Score of the blade-loop view alone.</summary>
    public double? ScoreLoop { get; init; }

    /// <summary>Likeliest cause, where the score calls for one.</summary>
    public string LikelyCause { get; init; } = "";

    /// <summary>Area cut by this blade since it was installed, this cut included, m2.</summary>
    public double? BladeAreaM2 { get; init; }

    /// <summary>The controller's raw part counter at the end of the cycle.</summary>
    public long? PartCount { get; init; }

    /// <summary>Frames seen between cut start and cut end.</summary>
    public required int Frames { get; init; }

    /// <summary>Frames seen divided by frames due between cut start and end, 0..1.</summary>
    public double? Coverage { get; init; }

    /// <summary>What the record was computed from, for example <c>head+load+bits</c>.</summary>
    public string Basis { get; init; } = "";

    /// <summary>What a reader should know besides, in plain words, separated by semicolons.</summary>
    public string Notes { get; init; } = "";
}
