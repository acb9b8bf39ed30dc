using SawEdge.Core.Cycles;

namespace SawEdge.Simulator.Saws;

/// <summary>A stop of the head inside the cut.</summary>
/// <param name="Started">When it began.</param>
/// <param name="DurationS">How long it lasted until the head went on, s.</param>
public readonly record struct HoldTruth(DateTimeOffset Started, double DurationS);

/// <summary>What really happened in one cycle: what tests hold the gateway's records against. Times are exact to 100 ns.</summary>
public sealed record SawTruth
{
    /// <summary>Name of the saw.</summary>
    public required string Saw { get; init; }

    /// <summary>Number of the cycle at this saw, from 1.</summary>
    public required long Cycle { get; init; }

    /// <summary>When the cycle began: cycle_active rises.</summary>
    public required DateTimeOffset Started { get; init; }

    /// <summary>First contact of blade and stock; null where there was no stock.</summary>
    public DateTimeOffset? Contact { get; init; }

    /// <summary>When the blade came through; null where it did not.</summary>
    public DateTimeOffset? Breakthrough { get; init; }

    /// <summary>When a cut that did not come through was left: the head stopped for good or began to rise.</summary>
    public DateTimeOffset? Left { get; init; }

    /// <summary>When the blade broke; null where it did not.</summary>
    public DateTimeOffset? BladeLost { get; init; }

    /// <summary>When the blade was back above the stock's top after a cut that did not come through.</summary>
    public DateTimeOffset? Raised { get; init; }

    /// <summary>End of the cycle: cycle_active falls.</summary>
    public required DateTimeOffset Ended { get; init; }

    /// <summary>How the cut ended; null where there was no stock and so no cut.</summary>
    public CutOutcome? Outcome { get; init; }

    /// <summary>Depth reached, mm.</summary>
    public double DepthMm { get; init; }

    /// <summary>Stops of the head in the cut.</summary>
    public IReadOnlyList<HoldTruth> Holds { get; init; } = [];

    /// <summary>The part counter when the cycle and its count are over.</summary>
    public required long PartCount { get; init; }

    /// <summary>The job that was run.</summary>
    public required VirtualJob Job { get; init; }

    /// <summary>The job that the controller named.</summary>
    public required string ControllerJob { get; init; }

    /// <summary>What the stock was made of.</summary>
    public required VirtualMaterial Material { get; init; }

    /// <summary>The bar.</summary>
    public required string Bar { get; init; }

    /// <summary>The blade.</summary>
    public required string Blade { get; init; }

    /// <summary>Area cut by this blade, this cut included, m2.</summary>
    public required double BladeAreaM2 { get; init; }

    /// <summary>Share of this blade's life that was used before this cut.</summary>
    public required double BladeLifeUsed { get; init; }

    /// <summary>Factor of wear and dulling on specific energy in this cut.</summary>
    public required double WearFactor { get; init; }

    /// <summary>Factor of this blade on specific energy when it was new: no two blades are alike.</summary>
    public double BladeFactor { get; init; } = 1;

    /// <summary>Idle power in this cycle, drag and cold oil included, kW.</summary>
    public double IdleKw { get; init; }

    /// <summary>Area cut in this cycle, cm2.</summary>
    public required double CutAreaCm2 { get; init; }

    /// <summary>Net energy of the cut at the motor, kJ, without drift and noise.</summary>
    public required double EnergyKj { get; init; }

    /// <summary>Words of the faults that held, in the order in which they were switched on.</summary>
    public IReadOnlyList<string> Faults { get; init; } = [];

    /// <summary>Contact to breakthrough or to the moment the cut was left, holds included, s; null without a cut.</summary>
    public double? CutTimeS => ((Breakthrough ?? Left) - Contact)?.TotalSeconds;
}
