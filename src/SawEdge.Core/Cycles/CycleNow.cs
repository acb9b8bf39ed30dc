namespace SawEdge.Core.Cycles;

/// <summary>What began a cycle.</summary>
public enum CycleBeginning : byte
{
    /// <summary>No cycle is open.</summary>
    None,

    /// <summary>It was under way when the first frame came, or the frames after a gap did.</summary>
    NotSeen,

    /// <summary>The controller's cycle bit.</summary>
    CycleBit,

    /// <summary>The controller's cutting bit, or the head that went down.</summary>
    CuttingOrHead,
}

/// <summary>What the detector waits for.</summary>
public enum CycleWait : byte
{
    /// <summary>The first frame.</summary>
    Frame,

    /// <summary>A cycle: the cycle bit, the cutting bit, or the head more than <see cref="CycleNow.DescentMm"/> below its highest place.</summary>
    Cycle,

    /// <summary>The load rises and stays, or the cutting bit where the load is not read: blade and stock meet.</summary>
    Contact,

    /// <summary>The load falls back to idle or the head comes up: the blade is through.</summary>
    Leave,

    /// <summary>The cycle bit falls.</summary>
    CycleBitFalls,

    /// <summary>The head comes up out of the stock and stands.</summary>
    HeadUp,

    /// <summary>The cutting bit is off for a while.</summary>
    CuttingBitOff,

    /// <summary>Somebody carries on with the cut, or takes the head out of the stock.</summary>
    CarryOn,
}

/// <summary>
/// What the cycle detector takes the saw to be doing now, and why: for a person who connects a saw. As the frames so far show it; once
/// the cycle is over its record is read from the whole trace and may say it otherwise. Heights and loads that are not known are NaN.
/// </summary>
public readonly record struct CycleNow
{
    /// <summary>So far below its highest place between cycles, mm, the head begins a cycle.</summary>
    public const double DescentMm = 2;

    /// <summary>So far above its lowest place, mm, the head has come up.</summary>
    public const double ReturnMm = 5;

    /// <summary>The phase.</summary>
    public CyclePhase Phase { get; init; }

    /// <summary>What began the open cycle.</summary>
    public CycleBeginning Beginning { get; init; }

    /// <summary>What the detector waits for.</summary>
    public CycleWait WaitsFor { get; init; }

    /// <summary>When the open cycle began; null between cycles.</summary>
    public DateTimeOffset? StartedAt { get; init; }

    /// <summary>When the cycle bit fell with the head in the stock; null where it did not.</summary>
    public DateTimeOffset? StoppedAt { get; init; }

    /// <summary>Whether blade and stock met in the open cycle.</summary>
    public bool HasCut { get; init; }

    /// <summary>When they met; null where that was not seen.</summary>
    public DateTimeOffset? ContactAt { get; init; }

    /// <summary>Head height there, mm.</summary>
    public double ContactHeadMm { get; init; }

    /// <summary>When the blade left the stock; null where it is in it, or that was not seen.</summary>
    public DateTimeOffset? LeftAt { get; init; }

    /// <summary>Head height there, mm.</summary>
    public double LeaveHeadMm { get; init; }

    /// <summary>Load with the blade in air: of this cycle where it was seen in it, else as learned from earlier ones, kW.</summary>
    public double IdleKw { get; init; }

    /// <summary>The height below which the head must go by <see cref="DescentMm"/> to begin a cycle, mm; NaN in a cycle.</summary>
    public double TopMm { get; init; }

    /// <summary>Lowest place of the head in the open cycle, mm.</summary>
    public double LowestMm { get; init; }

    /// <summary>The cycle bit as it was last read; null: it is not read.</summary>
    public bool? CycleBit { get; init; }

    /// <summary>The cutting bit as it was last read; null: it is not read.</summary>
    public bool? CuttingBit { get; init; }

    /// <summary>Whether a finished cycle still waits for the part counter, a few seconds at most.</summary>
    public bool AwaitsCounter { get; init; }
}
