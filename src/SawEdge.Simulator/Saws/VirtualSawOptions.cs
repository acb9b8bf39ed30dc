using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;

namespace SawEdge.Simulator.Saws;

/// <summary>One virtual saw: the same options give the same signals and the same truth, always.</summary>
public sealed record VirtualSawOptions
{
    /// <summary>The machine.</summary>
    public required MachineProfile Machine { get; init; }

    /// <summary>What it makes, one job after the other, over and over.</summary>
    public required IReadOnlyList<VirtualJob> Jobs { get; init; }

    /// <summary>Seed of everything that scatters.</summary>
    public required ulong Seed { get; init; }

    /// <summary>When the saw starts; its first wait begins here.</summary>
    public required DateTimeOffset Start { get; init; }

    /// <summary>Its blades.</summary>
    public BladeModel Blade { get; init; } = new();

    /// <summary>Noise and scatter.</summary>
    public NoiseModel Noise { get; init; } = new();

    /// <summary>What happens between cycles.</summary>
    public WorkPattern Work { get; init; } = new();

    /// <summary>Faults from the beginning; more can be switched on later.</summary>
    public IReadOnlyList<Fault> Faults { get; init; } = [];

    /// <summary>Signals that this saw has; all where not stated.</summary>
    public IReadOnlySet<Signal>? Signals { get; init; }

    /// <summary>Put before the names of bars and blades, so that those of several saws differ.</summary>
    public string IdPrefix { get; init; } = "";

    /// <summary>States every mistake at once.</summary>
    /// <exception cref="ArgumentException">Something cannot be; the message lists all of it.</exception>
    public void Validate()
    {
        var mistakes = new List<string>();
        void Check(bool good, string otherwise)
        {
            if (!good)
                mistakes.Add(otherwise);
        }

        Check(Jobs.Count > 0, "Jobs: at least one is needed.");
        Check(Machine.DriveEfficiency is > 0 and <= 1, $"Machine.DriveEfficiency is {Machine.DriveEfficiency}; it must lie above 0 and at most at 1.");
        Check(Machine.CountDelayS is >= 0 and <= 10, $"Machine.CountDelayS is {Machine.CountDelayS}; it must lie between 0 and 10.");
        Check(Machine.CounterLimit > 1, $"Machine.CounterLimit is {Machine.CounterLimit}; it must be above 1.");
        Check(
            Machine is { ToothPitchMm: > 0, KerfMm: > 0, MaximumDescentMmMin: > 0, MaximumFeedPerToothMm: > 0, BladeLengthMm: > 0, ApproachMmMin: > 0, ReturnMmMin: > 0, ShuttleStrokeMm: > 0, BladeStartS: > 0 },
            "Machine: pitch, kerf, rates, stroke, blade length and blade start must be above 0.");
        Check(Blade.LifeM2 > 0, $"Blade.LifeM2 is {Blade.LifeM2}; it must be above 0.");
        Check(Noise.DriftS > 0, $"Noise.DriftS is {Noise.DriftS}; it must be above 0.");
        Check(Noise is { WarmUpS: > 0, CoolDownS: > 0 }, $"Noise.WarmUpS is {Noise.WarmUpS} and Noise.CoolDownS {Noise.CoolDownS}; both must be above 0.");
        foreach (var job in Jobs)
        {
            var height = job.Section.HeightMm;
            Check(height + Machine.RapidGapMm <= Machine.RestHeightMm, $"Job {job.Id}: stock {height} mm high and a gap of {Machine.RapidGapMm} mm do not fit under a head that rests at {Machine.RestHeightMm} mm.");
            Check(job is { RateCm2Min: > 0, BladeSpeedMMin: > 0, PartLengthMm: > 0, Quantity: > 0 }, $"Job {job.Id}: rate, blade speed, part length and quantity must be above 0.");
            Check(
                job.BarLengthMm >= job.TrimLengthMm + job.PartLengthMm + (2 * Machine.KerfMm) + job.RemnantMm,
                $"Job {job.Id}: a bar of {job.BarLengthMm} mm is too short for one part of {job.PartLengthMm} mm, the trim cut and the remnant.");
        }

        mistakes.AddRange(Faults.Select(fault => fault.Mistake).OfType<string>());
        if (mistakes.Count > 0)
            throw new ArgumentException(string.Join(Environment.NewLine, mistakes));
    }
}
