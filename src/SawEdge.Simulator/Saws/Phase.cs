namespace SawEdge.Simulator.Saws;

/// <summary>What the drive of the blade does.</summary>
public enum BladeDrive : byte
{
    /// <summary>Standing.</summary>
    Stopped,

    /// <summary>Coming up to speed, with the inrush.</summary>
    Starting,

    /// <summary>At speed.</summary>
    Running,

    /// <summary>Switched off and running out.</summary>
    Stopping,

    /// <summary>The blade is off the wheels, the motor still turns them.</summary>
    Broken,

    /// <summary>The blade is caught in the stock, the motor pulls.</summary>
    Stalled,
}

/// <summary>A stretch of time in which the saw does one thing. Times are in seconds since the start of the turn.</summary>
public readonly record struct Phase
{
    /// <summary>When it begins, s.</summary>
    public double FromS { get; init; }

    /// <summary>When it ends, s.</summary>
    public double ToS { get; init; }

    /// <summary>Head height at its beginning, mm.</summary>
    public double HeadFromMm { get; init; }

    /// <summary>Head height at its end, mm; in between on a straight line, or along the cut's path.</summary>
    public double HeadToMm { get; init; }

    /// <summary>Time on the cut's path at its beginning, s; NaN where the head does not feed through stock.</summary>
    public double PathFromS { get; init; }

    /// <summary>What the blade does.</summary>
    public BladeDrive Blade { get; init; }

    /// <summary>When the blade began to do this, s: ramps are reckoned from here.</summary>
    public double BladeSinceS { get; init; }

    /// <summary>Whether the controller runs an automatic cycle.</summary>
    public bool CycleActive { get; init; }

    /// <summary>The cutting bit.</summary>
    public bool Cutting { get; init; }

    /// <summary>Whether the head is moved by hand or the saw is set up.</summary>
    public bool Manual { get; init; }

    /// <summary>The fault code.</summary>
    public int FaultCode { get; init; }

    /// <summary>Length, s.</summary>
    public double DurationS => ToS - FromS;

    /// <summary>Whether the head follows the cut's path.</summary>
    public bool FollowsPath => !double.IsNaN(PathFromS);

    /// <summary>Whether chips are made.</summary>
    public bool Cuts => FollowsPath && Blade == BladeDrive.Running;
}
