using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.History;

/// <summary>What comparing cut times needs of a stored cycle. A value that is not known is null (text: empty).</summary>
public sealed record StoredCutTime
{
    /// <summary>Start of the cycle.</summary>
    public required DateTimeOffset StartedAt { get; init; }

    /// <summary>End of the cycle.</summary>
    public required DateTimeOffset EndedAt { get; init; }

    /// <summary>How the cut ended.</summary>
    public required CutOutcome Outcome { get; init; }

    /// <summary>The job's identifier.</summary>
    public required string Job { get; init; }

    /// <summary>Material of the job.</summary>
    public required string Material { get; init; }

    /// <summary>Section of the job in short notation.</summary>
    public required string Section { get; init; }

    /// <summary>Identity of the blade.</summary>
    public required string Blade { get; init; }

    /// <summary>Area of cut, cm2.</summary>
    public double? CutAreaCm2 { get; init; }

    /// <summary>Cut time, s.</summary>
    public double? CutTimeS { get; init; }

    /// <summary>Standard cut time, s.</summary>
    public double? StandardCutTimeS { get; init; }

    /// <summary>Mean blade speed in the cut, m/min.</summary>
    public double? MeanBladeSpeedMMin { get; init; }

    /// <summary>Load score.</summary>
    public double? LoadScore { get; init; }

    /// <summary>Area that the blade had cut afterwards, m2.</summary>
    public double? BladeAreaM2 { get; init; }

    /// <summary>Frames seen over frames due.</summary>
    public double? Coverage { get; init; }

    /// <summary>What the record was computed from.</summary>
    public required string Basis { get; init; }

    /// <summary>The texts of the job's row as a JSON object; null where no evidence is stored, or the job was in no list.</summary>
    public string? JobTexts { get; init; }

    /// <summary>Time in feed holds inside the cut, s; 0 where no evidence is stored.</summary>
    public double HoldSeconds { get; init; }
}
