namespace SawEdge.Core.Cycles;

/// <summary>What a detector has learned between cycles: all that a restart must not forget. Null where nothing was learned.</summary>
public sealed record DetectorMemory
{
    /// <summary>Load with the blade in air, kW.</summary>
    public double? IdleLoadKw { get; init; }

    /// <summary>Head height at breakthrough, mm.</summary>
    public double? BottomMm { get; init; }

    /// <summary>A height that the last cut told and that lies elsewhere, or null.</summary>
    public double? BottomDoubtMm { get; init; }

    /// <summary>Job of the latest full cuts and their usual cut time, s.</summary>
    public string UsualJob { get; init; } = "";

    /// <summary>Usual cut time of <see cref="UsualJob"/>, s.</summary>
    public double? UsualCutSeconds { get; init; }

    /// <summary>Usual time from the end of a full cut to the end of its cycle, s.</summary>
    public double? UsualTailSeconds { get; init; }

    /// <summary>Whether one cycle bit was seen to span several cuts.</summary>
    public bool CycleBitSpansCuts { get; init; }

    /// <summary>Load above which the saw cuts, kW, as far as following needs it.</summary>
    public double? CuttingAboveKw { get; init; }

    /// <summary>The part counter as last read.</summary>
    public long? PartCount { get; init; }

    /// <summary>Whether the part counter was ever seen to rise.</summary>
    public bool PartCountRose { get; init; }

    /// <summary>Full cuts in a row that the counter did not count.</summary>
    public int CutsWithoutRise { get; init; }

    /// <summary>Usual time between two frames, s; so long after a start a seldom frame is no gap.</summary>
    public double? UsualIntervalSeconds { get; init; }

    /// <summary>When the saw was last seen.</summary>
    public DateTimeOffset? LookedAt { get; init; }

    /// <summary>What was counted while nobody looked and stands in no record yet.</summary>
    public UnseenParts? Unseen { get; init; }

    /// <summary>What of the part counter is not set against records yet.</summary>
    public PartLedgerMemory Ledger { get; init; } = new();

    /// <summary>Mode, job, bar and blade as last read; empty where never read.</summary>
    public string Mode { get; init; } = "";

    /// <summary>Job as last read.</summary>
    public string Job { get; init; } = "";

    /// <summary>Bar as last read.</summary>
    public string BarId { get; init; } = "";

    /// <summary>Blade as last read.</summary>
    public string BladeId { get; init; } = "";

    /// <summary>Bar of the last cut.</summary>
    public string LastCutBarId { get; init; } = "";
}
