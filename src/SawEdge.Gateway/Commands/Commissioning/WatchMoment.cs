using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>One signal as it is now. Numbers in the signal's own unit; NaN where there is none.</summary>
internal sealed record SignalMoment
{
    /// <summary>The signal and where it comes from.</summary>
    public required SignalPlace Place { get; init; }

    /// <summary>What came: registers in hexadecimal, a bit, or the text, cleaned; empty: nothing yet.</summary>
    public string Raw { get; init; } = "";

    /// <summary>Quality in the last frame.</summary>
    public SignalQuality Quality { get; init; }

    /// <summary>The number.</summary>
    public double Number { get; init; } = double.NaN;

    /// <summary>The flag, or null.</summary>
    public bool? Flag { get; init; }

    /// <summary>The text, cleaned, or null.</summary>
    public string? Text { get; init; }

    /// <summary>The value that is outside the limits, where it is known.</summary>
    public double OutOfRange { get; init; } = double.NaN;

    /// <summary>How long ago it came; null: never.</summary>
    public TimeSpan? Age { get; init; }

    /// <summary>Least good value since the start.</summary>
    public double Minimum { get; init; } = double.NaN;

    /// <summary>Greatest good value since the start.</summary>
    public double Maximum { get; init; } = double.NaN;

    /// <summary>How often a flag or text changed since the start.</summary>
    public long Changes { get; init; }
}

/// <summary>How polling goes.</summary>
/// <param name="Polls">Polls so far.</param>
/// <param name="Requests">Requests that the last one made.</param>
/// <param name="Median">Usual time from question to answer.</param>
/// <param name="Greatest">The longest since the start.</param>
internal sealed record PollFigures(long Polls, int Requests, TimeSpan Median, TimeSpan Greatest);

/// <summary>A saw as it is now.</summary>
internal sealed record WatchMoment
{
    /// <summary>How long it is watched.</summary>
    public TimeSpan Running { get; init; }

    /// <summary>Frames that came.</summary>
    public long Frames { get; init; }

    /// <summary>Time of the last one, by the frame's own clock; null: none came.</summary>
    public DateTimeOffset? LastFrameAt { get; init; }

    /// <summary>The signals.</summary>
    public required IReadOnlyList<SignalMoment> Signals { get; init; }

    /// <summary>What the detector thinks.</summary>
    public required CycleNow Cycle { get; init; }

    /// <summary>Since when it is in that phase, by the frames' clock.</summary>
    public DateTimeOffset PhaseSince { get; init; }

    /// <summary>Head height in the last frame, mm.</summary>
    public double HeadMm { get; init; } = double.NaN;

    /// <summary>Motor load in the last frame, kW.</summary>
    public double LoadKw { get; init; } = double.NaN;

    /// <summary>The last finished cycle, or null.</summary>
    public CycleRecord? LastCycle { get; init; }

    /// <summary>Cycles that were finished since the start.</summary>
    public long Cycles { get; init; }

    /// <summary>How polling goes; null where the source is not polled.</summary>
    public PollFigures? Polls { get; init; }
}
