namespace SawEdge.Core.Cycles;

/// <summary>
/// One finished cycle as the frames show it, before anything is compared with an expectation. Times are UTC;
/// values that were not seen are NaN or null.
/// </summary>
public sealed record Cut
{
    /// <summary>Start of the cycle.</summary>
    public required DateTimeOffset StartedAt { get; init; }

    /// <summary>End of the cycle, or of what was seen of it.</summary>
    public required DateTimeOffset EndedAt { get; init; }

    /// <summary>Contact, interpolated between frames; null where it was not seen.</summary>
    public DateTimeOffset? CutStartedAt { get; init; }

    /// <summary>Breakthrough or leaving the stock, interpolated; null where it was not seen.</summary>
    public DateTimeOffset? CutEndedAt { get; init; }

    /// <summary>How the cut ended.</summary>
    public required CutOutcome Outcome { get; init; }

    /// <summary>Mode at the controller, or empty.</summary>
    public string Mode { get; init; } = "";

    /// <summary>Job at the controller, or empty.</summary>
    public string Job { get; init; } = "";

    /// <summary>Bar, or empty.</summary>
    public string BarId { get; init; } = "";

    /// <summary>Blade, or empty.</summary>
    public string BladeId { get; init; } = "";

    /// <summary>The controller's part counter at the end of the cycle.</summary>
    public long? PartCount { get; init; }

    /// <summary>What the controller counted before this cycle while nobody saw the saw; null: nothing. In <see cref="Notes"/> in words.</summary>
    public UnseenParts? Before { get; init; }

    /// <summary>The fault code that was seen in the cycle; 0: none.</summary>
    public long FaultCode { get; init; }

    /// <summary>Depth cut, mm: head travel from contact to the end of the cut; NaN without a usable head position.</summary>
    public double DepthMm { get; init; } = double.NaN;

    /// <summary>Time-weighted mean load in the cut, kW.</summary>
    public double MeanLoadKw { get; init; } = double.NaN;

    /// <summary>Greatest load in the cut, kW.</summary>
    public double PeakLoadKw { get; init; } = double.NaN;

    /// <summary>Load with the blade in air, kW.</summary>
    public double IdleLoadKw { get; init; } = double.NaN;

    /// <summary>Integral of the load above idle over the cut, kJ; NaN where too little was seen.</summary>
    public double EnergyKj { get; init; } = double.NaN;

    /// <summary>Time-weighted mean blade speed in the cut, m/min.</summary>
    public double MeanBladeSpeedMMin { get; init; } = double.NaN;

    /// <summary>Time in feed holds inside the cut, s.</summary>
    public double HoldSeconds { get; init; }

    /// <summary>Frames seen in the cut.</summary>
    public int Frames { get; init; }

    /// <summary>Frames seen over frames due, 0..1; NaN where the cut's ends are unknown.</summary>
    public double Coverage { get; init; } = double.NaN;

    /// <summary>What it was computed from: head, load, bits, joined by +.</summary>
    public string Basis { get; init; } = "";

    /// <summary>What is wrong with the signals; each is in <see cref="Notes"/> in words.</summary>
    public SignalDoubts Doubts { get; init; }

    /// <summary>What a reader should know besides, each in plain words.</summary>
    public IReadOnlyList<string> Notes { get; init; } = [];

    /// <summary>How far the load follows the turns of the blade; null where signals or sampling do not allow to tell.</summary>
    public BladeLoopMeasure? Loop { get; init; }

    /// <summary>The cut along its depth; null where its ends were not both seen.</summary>
    public DepthProfile? Profile { get; init; }
}
