using SawEdge.Core.Materials;

namespace SawEdge.Core.Cutting;

/// <summary>Removal, feed per tooth and cutting power, each from one equation.</summary>
public static class CutPower
{
    /// <summary>Mean feed per tooth, mm: descent * pitch / (1000 * blade speed).</summary>
    /// <param name="descentMmMin">Descent rate, mm/min.</param>
    /// <param name="pitchMm">Mean tooth pitch, mm.</param>
    /// <param name="bladeSpeedMMin">Blade speed, m/min.</param>
    public static double FeedPerToothMm(double descentMmMin, double pitchMm, double bladeSpeedMMin) =>
        descentMmMin * pitchMm / (1000 * bladeSpeedMMin);

    /// <summary>Removal rate, cm3/min: kerf * width * descent.</summary>
    /// <param name="kerfMm">Kerf, mm.</param>
    /// <param name="widthMm">Contact width, mm.</param>
    /// <param name="descentMmMin">Descent rate, mm/min.</param>
    public static double RemovalCm3Min(double kerfMm, double widthMm, double descentMmMin) => kerfMm * widthMm * descentMmMin / 1000;

    /// <summary>
    /// Power at the teeth, kW: kc * Q / 60000 with kc in N/mm2 and Q in cm3/min (the power equation of turning and milling
    /// handbooks; ap 3 mm, f 0.2 mm, vc 120 m/min and kc 3100 N/mm2 give 3.72 kW).
    /// </summary>
    /// <param name="specificForceNMm2">Specific cutting force, N/mm2, numerically the specific energy in J per 1000 mm3.</param>
    /// <param name="removalCm3Min">Removal rate, cm3/min.</param>
    public static double NetKw(double specificForceNMm2, double removalCm3Min) => specificForceNMm2 * removalCm3Min / 60_000;

    /// <summary>Power at the teeth for a momentary descent, kW.</summary>
    /// <param name="material">Material.</param>
    /// <param name="blade">Blade.</param>
    /// <param name="widthMm">Contact width, mm.</param>
    /// <param name="descentMmMin">Descent rate, mm/min; 0 or less gives 0.</param>
    /// <param name="bladeSpeedMMin">Blade speed, m/min; 0 or less gives 0.</param>
    public static double NetKw(Material material, Blade blade, double widthMm, double descentMmMin, double bladeSpeedMMin)
    {
        if (!(descentMmMin > 0 && bladeSpeedMMin > 0))
            return 0;
        var feed = FeedPerToothMm(descentMmMin, blade.PitchMm, bladeSpeedMMin);
        return NetKw(material.SpecificForceNMm2(feed), RemovalCm3Min(blade.KerfMm, widthMm, descentMmMin));
    }
}
