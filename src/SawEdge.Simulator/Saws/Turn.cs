using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Saws;

/// <summary>The texts that a controller shows.</summary>
internal readonly record struct ControllerTexts(string Job, string Bar, string Blade);

/// <summary>A step of a counter.</summary>
internal readonly record struct CountStep(long Ticks, long Value);

/// <summary>A stretch of blade without teeth.</summary>
/// <param name="Share">Share of the loop.</param>
/// <param name="Strength">Swing of the power.</param>
/// <param name="LoopsPerS">Loop frequency vb / blade length, 1/s.</param>
/// <param name="Begin">Where the loop stands at the start of the turn, 0..1.</param>
internal readonly record struct LoopGap(double Share, double Strength, double LoopsPerS, double Begin)
{
    /// <summary>Factor on the cutting power, 1 in the mean.</summary>
    public double FactorAt(double s)
    {
        if (Strength == 0)
            return 1;
        var position = (LoopsPerS * s) + Begin;
        position -= Math.Floor(position);
        return position < Share ? 1 - Strength : position < 2 * Share ? 1 + Strength : 1;
    }
}

/// <summary>A signal that keeps its value from a moment of this turn on.</summary>
internal sealed record Stuck(Signal Signal, long FirstCycle, double FromS, Faults.Fault Cause);

/// <summary>One turn of a saw, planned as a whole: the wait before a cycle, the cycle, and what it takes to recover from it.</summary>
internal sealed class Turn
{
    public required DateTimeOffset Start { get; init; }

    public required Phase[] Phases { get; init; }

    public required double CycleStartS { get; init; }

    public required double CycleEndS { get; init; }

    public required CutPath? Path { get; init; }

    public required double StockHeightMm { get; init; }

    public required double BladeSpeedMMin { get; init; }

    /// <summary>Idle power in the cycle, drag included, kW.</summary>
    public required double IdleKw { get; init; }

    public required double StallKw { get; init; }

    public required LoopGap Loop { get; init; }

    public required CountStep[] Counts { get; init; }

    public required long Scrap { get; init; }

    public required ControllerTexts TextsBefore { get; init; }

    public required ControllerTexts TextsAfter { get; init; }

    /// <summary>When the controller shows the new texts, s.</summary>
    public required double TextsAtS { get; init; }

    /// <summary>When the controller stops answering, s; NaN: it does not.</summary>
    public required double OfflineFromS { get; init; }

    public required double OfflineToS { get; init; }

    public required IReadOnlyList<Stuck> Stuck { get; init; }

    public required SawTruth Truth { get; init; }

    /// <summary>Factor of wear on this turn's blade: the line of a worn blade wanders more.</summary>
    public required double WearFactor { get; init; }

    public double DurationS => Phases[^1].ToS;

    public DateTimeOffset End => Start.AddTicks(TicksOf(DurationS));

    public static long TicksOf(double seconds) => (long)Math.Round(seconds * TimeSpan.TicksPerSecond);

    public double SecondsAt(long ticks) => (ticks - Start.UtcTicks) / (double)TimeSpan.TicksPerSecond;

    public bool IsOffline(double s) => s >= OfflineFromS && s < OfflineToS;

    public long CountAt(long ticks)
    {
        var value = Counts[0].Value;
        foreach (var step in Counts)
        {
            if (step.Ticks <= ticks)
                value = step.Value;
        }

        return value;
    }
}
