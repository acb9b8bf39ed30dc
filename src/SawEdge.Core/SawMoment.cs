using SawEdge.Core.Oee;

namespace SawEdge.Core;

/// <summary>What a saw does at one moment. Numbers that are not known are NaN, texts empty.</summary>
public readonly record struct SawMoment
{
    /// <summary>A saw of which no frame came yet.</summary>
    public static SawMoment Nothing { get; } = new()
    {
        Job = "",
        Material = "",
        Section = "",
        Blade = "",
        HeadMm = double.NaN,
        LoadKw = double.NaN,
        IdleKw = double.NaN,
        BladeSpeedMMin = double.NaN,
        ExpectedKw = double.NaN,
        LowKw = double.NaN,
        HighKw = double.NaN,
        CutShare = double.NaN,
    };

    /// <summary>How many frames were taken; another number is another moment, 0: none was.</summary>
    public long Frames { get; init; }

    /// <summary>Time of the last frame.</summary>
    public DateTimeOffset At { get; init; }

    /// <summary>When it came, by the machine clock.</summary>
    public DateTimeOffset ReceivedAt { get; init; }

    /// <summary>How long it holds: when nothing follows for longer, what the saw does is unknown.</summary>
    public TimeSpan Holds { get; init; }

    /// <summary>What it does.</summary>
    public TimelineState State { get; init; }

    /// <summary>Since when; null where it is not known.</summary>
    public DateTimeOffset? StateSince { get; init; }

    /// <summary>The fault code that stands; 0: none.</summary>
    public long Fault { get; init; }

    /// <summary>The job at the controller.</summary>
    public string Job { get; init; }

    /// <summary>Material of the job.</summary>
    public string Material { get; init; }

    /// <summary>Section of the job in short notation.</summary>
    public string Section { get; init; }

    /// <summary>The blade, where the controller names it.</summary>
    public string Blade { get; init; }

    /// <summary>Head height, mm.</summary>
    public double HeadMm { get; init; }

    /// <summary>Motor load, kW.</summary>
    public double LoadKw { get; init; }

    /// <summary>Motor load with the blade in air, kW.</summary>
    public double IdleKw { get; init; }

    /// <summary>Blade speed, m/min.</summary>
    public double BladeSpeedMMin { get; init; }

    /// <summary>Load that a normal cut of this job takes at this depth, kW.</summary>
    public double ExpectedKw { get; init; }

    /// <summary>Lower end of the band in which 95 of 100 normal cuts lie there, kW.</summary>
    public double LowKw { get; init; }

    /// <summary>Upper end of that band, kW.</summary>
    public double HighKw { get; init; }

    /// <summary>Share of the section's height that is cut, 0..1.</summary>
    public double CutShare { get; init; }

    /// <summary>When the cut began; null where none runs.</summary>
    public DateTimeOffset? CutStartedAt { get; init; }

    /// <summary>The controller's raw part counter; null where it is not known.</summary>
    public long? PartCount { get; init; }
}
