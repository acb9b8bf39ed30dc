using SawEdge.Core.Sections;

namespace SawEdge.Simulator.Saws;

/// <summary>A hard place between two depths.</summary>
/// <param name="FromMm">Where it begins, mm.</param>
/// <param name="ToMm">Where it ends, mm.</param>
/// <param name="ForceFactor">Factor on cutting force.</param>
/// <param name="PaceFactor">Factor on the descent rate.</param>
public readonly record struct HardZone(double FromMm, double ToMm, double ForceFactor, double PaceFactor);

/// <summary>Depths between which the stock rocks in the vise, and the force with it.</summary>
/// <param name="FromMm">Where it begins, mm.</param>
/// <param name="ToMm">Where it ends, mm.</param>
/// <param name="WaveMm">Depth from one peak of the force to the next, mm.</param>
/// <param name="Swing">Swing of the force either way, as a share.</param>
public readonly record struct LooseZone(double FromMm, double ToMm, double WaveMm, double Swing)
{
    /// <summary>Factor on cutting force at a depth; 1 in the mean.</summary>
    public double FactorAt(double depthMm) =>
        depthMm > FromMm && depthMm < ToMm ? 1 + (Swing * Math.Sin(2 * Math.PI * (depthMm - FromMm) / WaveMm)) : 1;
}

/// <summary>
/// Everything that decides how one cut goes, noise and wear already worked in. The equations are those of the cutting
/// model: descent vd(d) = min(R / w(d), cap), feed per tooth h = vd p / (1000 vb), force kc = kc11 h^-mc (Kienzle), power
/// kc Q / (60 000 efficiency) with Q in cm3/min and kc in N/mm2.
/// </summary>
public sealed record CutConditions
{
    /// <summary>The stock.</summary>
    public required Section Section { get; init; }

    /// <summary>Its material.</summary>
    public required VirtualMaterial Material { get; init; }

    /// <summary>Cutting rate R, cm2/min.</summary>
    public required double RateCm2Min { get; init; }

    /// <summary>Greatest descent rate, mm/min: the machine's own, or the one at which the feed per tooth reaches its limit.</summary>
    public required double DescentCapMmMin { get; init; }

    /// <summary>Blade speed vb, m/min.</summary>
    public required double BladeSpeedMMin { get; init; }

    /// <summary>Mean tooth pitch p, mm.</summary>
    public required double ToothPitchMm { get; init; }

    /// <summary>Kerf b, mm.</summary>
    public required double KerfMm { get; init; }

    /// <summary>Share of motor power that reaches the blade.</summary>
    public required double Efficiency { get; init; }

    /// <summary>Factor on specific energy: wear, bar, cut.</summary>
    public double EnergyFactor { get; init; } = 1;

    /// <summary>A hard place, or null.</summary>
    public HardZone? HardZone { get; init; }

    /// <summary>Where the stock rocks, or null.</summary>
    public LooseZone? LooseZone { get; init; }

    /// <summary>Descent rate at a depth with a contact width, mm/min.</summary>
    /// <param name="depthMm">Depth, mm.</param>
    /// <param name="widthMm">Contact width there, mm; 0 gives the cap.</param>
    public double DescentMmMin(double depthMm, double widthMm)
    {
        var free = widthMm > 0 ? Math.Min(RateCm2Min * 100 / widthMm, DescentCapMmMin) : DescentCapMmMin;
        return HardZone is { } zone && depthMm > zone.FromMm && depthMm < zone.ToMm ? free * zone.PaceFactor : free;
    }

    /// <summary>Motor power above idle, kW.</summary>
    /// <param name="depthMm">Depth, mm.</param>
    /// <param name="widthMm">Contact width there, mm.</param>
    /// <param name="descentMmMin">Descent rate there, mm/min.</param>
    public double NetKw(double depthMm, double widthMm, double descentMmMin)
    {
        var feedPerTooth = descentMmMin * ToothPitchMm / (1000 * BladeSpeedMMin);
        var removalCm3Min = KerfMm * widthMm * descentMmMin / 1000;
        var force = Material.Kc(feedPerTooth) * EnergyFactor;
        if (HardZone is { } zone && depthMm > zone.FromMm && depthMm < zone.ToMm)
            force *= zone.ForceFactor;
        if (LooseZone is { } loose)
            force *= loose.FactorAt(depthMm);
        return force * removalCm3Min / (60_000 * Efficiency);
    }
}
