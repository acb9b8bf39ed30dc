using SawEdge.Core.Materials;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Cutting;

/// <summary>
/// How a cut should run along its depth: descent, feed per tooth and power at every depth. Descent is the smaller of
/// rate / width and the cap. Immutable; the questions at a depth allocate nothing.
/// </summary>
public sealed class CutCurve
{
    private readonly double _scale;

    /// <summary>A curve from its quantities.</summary>
    /// <param name="section">Section.</param>
    /// <param name="material">Material.</param>
    /// <param name="blade">Blade.</param>
    /// <param name="bladeSpeedMMin">Blade speed, m/min.</param>
    /// <param name="rateCm2Min">Cutting rate, cm2/min.</param>
    /// <param name="capMmMin">Greatest descent, mm/min.</param>
    public CutCurve(Section section, Material material, Blade blade, double bladeSpeedMMin, double rateCm2Min, double capMmMin)
        : this(section, material, blade, bladeSpeedMMin, rateCm2Min, capMmMin, 1)
    {
    }

    private CutCurve(Section section, Material material, Blade blade, double bladeSpeedMMin, double rateCm2Min, double capMmMin, double scale)
    {
        Section = section;
        Material = material;
        Blade = blade;
        BladeSpeedMMin = bladeSpeedMMin;
        RateCm2Min = rateCm2Min;
        CapMmMin = capMmMin;
        _scale = scale;
        CutSeconds = TimeToDepthS(section.HeightMm);
    }

    /// <summary>Section.</summary>
    public Section Section { get; }

    /// <summary>Material.</summary>
    public Material Material { get; }

    /// <summary>Blade.</summary>
    public Blade Blade { get; }

    /// <summary>Blade speed, m/min.</summary>
    public double BladeSpeedMMin { get; }

    /// <summary>Cutting rate where it governs the descent, cm2/min.</summary>
    public double RateCm2Min { get; }

    /// <summary>Greatest descent, mm/min.</summary>
    public double CapMmMin { get; }

    /// <summary>Time from contact to breakthrough, s.</summary>
    public double CutSeconds { get; }

    /// <summary>The same curve run through in another time: every descent rate is multiplied by the same number.</summary>
    /// <param name="cutSeconds">The time it shall take, s.</param>
    public CutCurve Taking(double cutSeconds) =>
        new(Section, Material, Blade, BladeSpeedMMin, RateCm2Min, CapMmMin, _scale * CutSeconds / cutSeconds);

    /// <summary>Descent rate at a depth, mm/min; finite everywhere, and outside the stock the cap.</summary>
    public double DescentRateMmMin(double depthMm)
    {
        var width = Section.WidthAt(depthMm);
        var byRate = width > 0 ? RateCm2Min * 100 / width : double.PositiveInfinity;
        return _scale * Math.Min(byRate, CapMmMin);
    }

    /// <summary>Time from contact to a depth, s.</summary>
    public double TimeToDepthS(double depthMm) => CutIntegral.Seconds(Section, RateCm2Min, CapMmMin, 0, depthMm) / _scale;

    /// <summary>Mean feed per tooth at a depth, mm.</summary>
    public double FeedPerToothMm(double depthMm) => CutPower.FeedPerToothMm(DescentRateMmMin(depthMm), Blade.PitchMm, BladeSpeedMMin);

    /// <summary>Momentary cutting rate at a depth, cm2/min.</summary>
    public double RateAtCm2Min(double depthMm) => Section.WidthAt(depthMm) * DescentRateMmMin(depthMm) / 100;

    /// <summary>Power at the teeth at a depth, kW.</summary>
    public double NetPowerKw(double depthMm) =>
        CutPower.NetKw(Material, Blade, Section.WidthAt(depthMm), DescentRateMmMin(depthMm), BladeSpeedMMin);

    /// <summary>Motor power at a depth, kW: idle power and the power at the teeth divided by the drive's efficiency.</summary>
    /// <param name="depthMm">Depth, mm.</param>
    /// <param name="idleKw">Motor power with the blade running in air, kW.</param>
    /// <param name="driveEfficiency">Share of motor power that reaches the blade, above 0 and up to 1.</param>
    public double PowerKw(double depthMm, double idleKw, double driveEfficiency) => idleKw + (NetPowerKw(depthMm) / driveEfficiency);

    /// <summary>Energy at the teeth for the whole cut, kJ, by Gauss integration between the breaks.</summary>
    public double NetEnergyKj()
    {
        var energy = 0.0;
        var from = 0.0;
        for (var i = 0; i <= Section.BreaksMm.Count; i++)
        {
            var to = i < Section.BreaksMm.Count ? Section.BreaksMm[i] : Section.HeightMm;
            energy += GaussLegendre.Integrate(this, static (curve, d) => curve.NetPowerKw(d) * 60 / curve.DescentRateMmMin(d), from, to);
            from = to;
        }

        return energy;
    }
}
