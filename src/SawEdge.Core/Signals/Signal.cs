namespace SawEdge.Core.Signals;

/// <summary>
/// What a saw can tell about itself. Numbers, flags and integers come first and texts last, because a
/// <see cref="SignalFrame"/> stores the two kinds apart; the order in which people see them is
/// <see cref="SignalInfo.All"/>.
/// </summary>
public enum Signal : byte
{
    /// <summary>Height of the blade's cutting edge above the table, mm; falls during a cut.</summary>
    HeadPosition = 0,

    /// <summary>Blade motor power after conversion, kW.</summary>
    MotorLoad = 1,

    /// <summary>Blade speed, m/min.</summary>
    BladeSpeed = 2,

    /// <summary>The controller runs an automatic cycle.</summary>
    CycleActive = 3,

    /// <summary>The controller says the head feeds into the work.</summary>
    Cutting = 4,

    /// <summary>The blade is driven.</summary>
    BladeRunning = 5,

    /// <summary>The controller's fault code; 0 or empty: none.</summary>
    FaultCode = 6,

    /// <summary>The controller's own part counter: may roll over or be reset.</summary>
    PartCount = 7,

    /// <summary>Deviation of the blade from its line, mm, where a gauge is fitted.</summary>
    BladeDeviation = 8,

    /// <summary>The controller's scrap counter, where kept.</summary>
    ScrapCount = 9,

    /// <summary>Mode of operation: automatic, semi_automatic or manual.</summary>
    Mode = 10,

    /// <summary>The job's identifier at the controller.</summary>
    Job = 11,

    /// <summary>Identifier of the bar in the vise, where known.</summary>
    BarId = 12,

    /// <summary>Identifier of the blade on the saw, where known.</summary>
    BladeId = 13,
}

/// <summary>How a signal's value is written and read.</summary>
public enum SignalKind : byte
{
    /// <summary>A measured number.</summary>
    Number,

    /// <summary>A yes or no.</summary>
    Flag,

    /// <summary>A whole number.</summary>
    Integer,

    /// <summary>A text.</summary>
    Text,
}

/// <summary>Why a signal's value may or may not be used.</summary>
public enum SignalQuality : byte
{
    /// <summary>Not read in this frame; says nothing about the saw.</summary>
    NotRead = 0,

    /// <summary>Read and usable.</summary>
    Good = 1,

    /// <summary>Read, but outside the range that was stated for it.</summary>
    OutOfRange = 2,

    /// <summary>Read, but no number or text of the expected form (for example NaN).</summary>
    Invalid = 3,

    /// <summary>Due, but the source did not deliver it.</summary>
    SourceFault = 4,
}
