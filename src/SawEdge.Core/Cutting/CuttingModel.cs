using System.Globalization;
using SawEdge.Core.Materials;

namespace SawEdge.Core.Cutting;

/// <summary>Computes what a cut should take. Pure: the same job, saw and blade give the same answer.</summary>
public static class CuttingModel
{
    /// <summary>The standard time of one cut of a job.</summary>
    /// <param name="job">The job.</param>
    /// <param name="machine">The saw.</param>
    /// <param name="bladeSpeedMMin">Blade speed in use, m/min; null where it is not known, and then the recommended one is assumed.</param>
    /// <param name="bladeAreaCm2">Area that the blade has cut, cm2; null where it is not known, which counts as broken in.</param>
    public static StandardTime Standard(CutJob job, SawMachine machine, double? bladeSpeedMMin = null, double? bladeAreaCm2 = null)
    {
        var blade = job.Blade ?? PitchTable.SuitableBlade(job.Section.MeanWidthMm);
        var recommended = RecommendedSpeedMMin(job, blade);
        var speed = bladeSpeedMMin is > 0 ? bladeSpeedMMin.Value : recommended;
        var factors = Factors(job, blade, bladeSpeedMMin is > 0 ? speed / recommended : null, recommended, bladeAreaCm2);
        var rate = factors.Where(f => f.Unit is "" or "cm2/min").Aggregate(1.0, (product, f) => product * f.Value);
        var feedCap = job.Material.MaximumFeedMm.Value * 1000 * speed / blade.PitchMm;
        var curve = new CutCurve(job.Section, job.Material, blade, speed, rate, Math.Min(machine.MaximumDescentMmMin ?? double.PositiveInfinity, feedCap));
        var basis = StandardBasis.Catalogue;
        if (job.Standard is { } plant)
        {
            basis = plant.CutTimeS is not null ? StandardBasis.PlantTime : StandardBasis.PlantRate;
            var seconds = plant.CutTimeS ?? (job.Section.AreaCm2 / plant.RateCm2Min!.Value * 60);
            curve = curve.Taking(seconds);
            rate = job.Section.AreaCm2 / seconds * 60;
            factors = [PlantFactor(plant)];
        }
        else
        {
            factors.AddRange(Caps(job, machine, feedCap));
        }

        var handling = Handling.Seconds(job, machine, out var missing);
        return new StandardTime
        {
            CutSeconds = curve.CutSeconds,
            HandlingSeconds = handling,
            CycleSeconds = curve.CutSeconds + handling,
            MissingForCycle = missing,
            RateCm2Min = rate,
            Basis = basis,
            Factors = factors,
            Advice = [.. MachineFit.Problems(job.Section, machine), .. ToothRule.Advise(job.Section, blade), .. AdviseSpeed(speed, recommended)],
            Curve = curve,
        };
    }

    /// <summary>
    /// The band speed recommended for a job, m/min: the catalogue's, adjusted for the length of cut, the coolant and the kind
    /// of blade. A saw that runs at this speed has a speed factor of 1.
    /// </summary>
    /// <param name="job">The job.</param>
    /// <param name="blade">The blade.</param>
    public static double RecommendedSpeedMMin(CutJob job, Blade blade) => SpeedFactors(job, blade).Aggregate(1.0, (product, f) => product * f.Value);

    /// <summary>The numbers whose product is the recommended band speed, in order; the first is in m/min.</summary>
    /// <param name="job">The job.</param>
    /// <param name="blade">The blade.</param>
    public static IReadOnlyList<RateFactor> SpeedFactors(CutJob job, Blade blade)
    {
        var factors = new List<RateFactor>(4)
        {
            Named("reference_speed", job.Material.BandSpeedMMin, "m/min"),
            Named("length", job.Factors.SpeedByLength.At(job.Section.MeanWidthMm)),
        };
        if (job.Coolant == Coolant.Dry)
            factors.Add(Named("coolant", job.Factors[NameOf(Coolant.Dry)]));
        if (blade.Kind == BladeKind.CarbonSteel)
            factors.Add(Named("blade", job.Factors[NameOf(BladeKind.CarbonSteel)]));
        return factors;
    }

    private static List<RateFactor> Factors(CutJob job, Blade blade, double? speedShare, double recommended, double? bladeAreaCm2)
    {
        var material = job.Material;
        return
        [
            Named("reference_rate", material.RateCm2Min, "cm2/min"),
            Named("length", job.Factors.RateByLength.At(job.Section.MeanWidthMm)),
            Named("hardness", CuttingFactors.ForHardness(material.HardnessHb.Value, job.HardnessHb)),
            Named("section", job.Factors[NameOf(job.Section.Family)]),
            Named("blade", job.Factors[NameOf(blade.Kind)]),
            Named("coolant", job.Factors[NameOf(job.Coolant)]),
            Named("break_in", job.Factors.ForBreakIn(material.Group, bladeAreaCm2)),
            speedShare is { } share
                ? new RateFactor("blade_speed", share, "", Provenance.Measured, "blade speed in use / recommended speed")
                : new RateFactor("blade_speed", 1, "", Provenance.Derived, "blade speed not known; the recommended one is assumed"),
            new RateFactor("recommended_speed", recommended, "m/min", material.BandSpeedMMin.Provenance, material.BandSpeedMMin.Source),
        ];
    }

    private static IEnumerable<RateFactor> Caps(CutJob job, SawMachine machine, double feedCap)
    {
        yield return new RateFactor("descent_cap_of_feed", feedCap, "mm/min", job.Material.MaximumFeedMm.Provenance, "greatest feed per tooth: " + job.Material.MaximumFeedMm.Source);
        if (machine.MaximumDescentMmMin is { } descent)
            yield return new RateFactor("descent_cap_of_saw", descent, "mm/min", Provenance.Plant, "the saw's settings");
    }

    /// <summary>Advice where the blade runs far from the recommended speed; a quarter either way is common practice, no source.</summary>
    private static IEnumerable<string> AdviseSpeed(double speed, double recommended)
    {
        if (Math.Abs((speed / recommended) - 1) > 0.25)
            yield return string.Create(CultureInfo.InvariantCulture, $"The blade runs at {speed:0} m/min; {recommended:0} m/min is recommended for this material, length of cut, blade and coolant.");
    }

    private static RateFactor PlantFactor(PlantStandard plant) => plant.CutTimeS is { } seconds
        ? new RateFactor("plant_time", seconds, "s", Provenance.Plant, "the job list")
        : new RateFactor("plant_rate", plant.RateCm2Min!.Value, "cm2/min", Provenance.Plant, "the job list");

    private static RateFactor Named(string name, Sourced value, string unit = "") => new(name, value.Value, unit, value.Provenance, value.Source);

    /// <summary>Contact that comes and goes is cut more gently than a solid.</summary>
    private static string NameOf(string family) => family switch
    {
        "round" or "rect" or "hex" or "polygon" => "section_solid",
        "bundle" => "section_bundle",
        _ => "section_hollow",
    };

    private static string NameOf(BladeKind kind) => kind switch
    {
        BladeKind.CarbonSteel => "blade_carbon_steel",
        BladeKind.Carbide => "blade_carbide",
        _ => "blade_bimetal",
    };

    private static string NameOf(Coolant coolant) => coolant switch
    {
        Coolant.Dry => "coolant_dry",
        Coolant.Mist => "coolant_mist",
        _ => "coolant_flood",
    };
}
