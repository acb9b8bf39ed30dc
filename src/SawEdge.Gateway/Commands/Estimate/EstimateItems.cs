using System.Globalization;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>Puts the results of an estimate together with the numbers that led to them.</summary>
internal sealed class EstimateItems(EstimateRequest request)
{
    /// <summary>The option that gives what the cutting model misses.</summary>
    private static readonly Dictionary<string, string> OptionFor = new(StringComparer.Ordinal)
    {
        ["part_length of the job"] = "--part-length",
        ["shuttle stroke"] = "--shuttle-stroke",
        ["time of an index stroke"] = "--stroke-time",
        ["clamp time"] = "--clamp-time",
        ["unclamp time"] = "--unclamp-time",
        ["rest height of the head"] = "--rest-height",
        ["approach rate"] = "--approach-rate",
        ["return rate"] = "--return-rate",
    };

    private readonly EstimateQuestion _question = request.Question;
    private readonly CutEstimate _estimate = CutEstimate.Of(request.Question);

    private CutJob Job => _question.Job;

    private StandardTime Standard => _estimate.Standard;

    private List<string> Missing => [.. Standard.MissingForCycle.Select(what => OptionFor.TryGetValue(what, out var option) ? $"{what} ({option})" : what)];

    private CutCurve Curve => _estimate.Standard.Curve;

    /// <summary>The whole report.</summary>
    public EstimateReport Build()
    {
        var items = new List<EstimateItem?> { BandSpeed(), CuttingRate(), CutTime(), CycleTime(), Feed(), Teeth(), Power(), Bar(), Quantity() };
        var advice = new List<string>(Standard.Advice);
        if (_question.Machine.RatedPowerKw is { } rated && _estimate.PeakCuttingKw + (_question.IdlePowerKw ?? 0) > rated)
            advice.Add("The motor would need more than its rated power at the widest place: the saw will not hold this rate there.");
        if (_question.Machine is { CapacityHeightMm: null, CapacityWidthMm: null })
            advice.Add("Whether a saw takes this section was not checked: no capacity is stated (--capacity-height, --capacity-width).");
        return new EstimateReport(Subject(), Job.Blade is not null, [.. items.OfType<EstimateItem>()], advice);
    }

    private List<(string, string, string)> Subject()
    {
        var (material, section, blade) = (Job.Material, Job.Section, Curve.Blade);
        var others = material.AllNames.Where(name => name != material.Name).Distinct(StringComparer.Ordinal).Take(4).ToList();
        var subject = new List<(string, string, string)>
        {
            ("material", material.Name, string.Join(", ", others)),
            ("section", section.Notation, ""),
            ("blade", blade.Notation, Job.Blade is null ? "none stated: the pitch is taken by the mean width" : ""),
        };
        if (request.SawName.Length > 0)
            subject.Add(("saw", request.SawName, ""));
        return subject;
    }

    private EstimateItem BandSpeed() => new("band_speed", "Band speed")
    {
        Figures = _question.BladeSpeedMMin is { } used
            ? [new("recommended_m_min", "recommended", _estimate.RecommendedSpeedMMin, "m/min"), new("in_use_m_min", "in use", used, "m/min")]
            : [new("recommended_m_min", "recommended", _estimate.RecommendedSpeedMMin, "m/min")],
        Rule = "the product of",
        Factors = _estimate.SpeedFactors,
    };

    private EstimateItem CuttingRate()
    {
        var isPlant = Standard.Basis != StandardBasis.Catalogue;
        return new("cutting_rate", "Cutting rate")
        {
            Figures = isPlant
                ? [new("mean_cm2_min", "mean over the cut", _estimate.MeanRateCm2Min, "cm2/min")]
                : [new("rate_cm2_min", "where it governs the descent", Standard.RateCm2Min, "cm2/min"), new("mean_cm2_min", "mean over the cut", _estimate.MeanRateCm2Min, "cm2/min")],
            Rule = isPlant ? "by the plant's own standard, in place of the catalogue" : "the product of",
            Factors = [.. Standard.Factors.Where(f => f.Name != "recommended_speed" && !IsCap(f)).Select(f => isPlant ? f with { Source = "with the question" } : f)],
        };
    }

    private EstimateItem CutTime() => new("cut_time", "Cut time")
    {
        Figures = [new("cut_time_s", "contact to breakthrough", Standard.CutSeconds, "s")],
        Rule = Standard.Basis == StandardBasis.Catalogue ? "the descent summed over the depth: at each depth rate / width, but no more than the caps" : "by the plant's own standard",
        Factors =
        [
            Derived("area_of_cut", Job.Section.AreaCm2, "cm2", "from the section, exactly"),
            Derived("height", Job.Section.HeightMm, "mm", "from the section, exactly"),
            .. Standard.Factors.Where(IsCap).Select(f => f.Name == "descent_cap_of_saw" ? f with { Source = request.SourceOf("maximumDescent") } : f),
        ],
    };

    private EstimateItem CycleTime()
    {
        if (_estimate.Handling is not { } handling)
        {
            return new("cycle_time", "Cycle time")
            {
                Figures = [new("cycle_time_s", "cut and handling", null, "s")],
                Missing = Missing,
            };
        }

        return new("cycle_time", "Cycle time")
        {
            Figures = [new("cycle_time_s", "cut and handling", Standard.CycleSeconds, "s"), new("handling_time_s", "handling alone", handling.TotalS, "s")],
            Rule = "cut time + shuttle strokes for the part length + clamping + head down from rest and up",
            Factors =
            [
                Plant("index", handling.IndexS, "s", string.Create(CultureInfo.InvariantCulture, $"{handling.Strokes} x stroke time; {request.SourceOf("strokeTime")}")),
                Plant("clamp", handling.ClampS, "s", request.SourceOf("clampTime")),
                Plant("unclamp", handling.UnclampS, "s", request.SourceOf("unclampTime")),
                Plant("approach", handling.ApproachS, "s", request.SourceOf("approachRate")),
                Plant("return", handling.ReturnS, "s", request.SourceOf("returnRate")),
            ],
        };
    }

    private EstimateItem Feed() => new("feed_per_tooth", "Feed per tooth")
    {
        Figures =
        [
            new("mean_mm", "mean over the cut", _estimate.MeanFeedMm, "mm"),
            new("least_mm", "least, at the widest place", _estimate.LeastFeedMm, "mm"),
            new("greatest_mm", "greatest, at the narrowest place", _estimate.GreatestFeedMm, "mm"),
        ],
        Rule = "descent x tooth pitch / blade speed",
        Factors =
        [
            Derived("mean_descent", Job.Section.HeightMm / Standard.CutSeconds * 60, "mm/min", "height / cut time"),
            Pitch(),
            Speed(),
        ],
    };

    private EstimateItem Teeth() => new("teeth_in_the_cut", "Teeth in the cut")
    {
        Figures = [new("mean", "mean over the depth", _estimate.MeanTeeth, ""), new("most", "most, at the widest place", _estimate.MostTeeth, "")],
        Rule = "width / tooth pitch",
        Factors =
        [
            Derived("mean_width", Job.Section.MeanWidthMm, "mm", "area / height"),
            Derived("greatest_width", _estimate.Width.WidestMm, "mm", "from the section"),
            Pitch(),
        ],
    };

    private EstimateItem Power()
    {
        var machine = _question.Machine;
        var idle = _question.IdlePowerKw;
        var rated = machine.RatedPowerKw;
        var (peak, mean) = (_estimate.PeakCuttingKw + (idle ?? 0), _estimate.MeanCuttingKw + (idle ?? 0));
        var material = Job.Material;
        var factors = new List<RateFactor>
        {
            Named("kc11", material.Kc11NMm2, "N/mm2"),
            Named("mc", material.Mc, ""),
            Derived("feed_at_the_widest_place", _estimate.LeastFeedMm, "mm", "feed per tooth"),
            Derived("kc", material.SpecificForceNMm2(_estimate.LeastFeedMm), "N/mm2", "kc11 x feed^-mc (Kienzle)"),
            new("kerf", Curve.Blade.KerfMm, "mm", request.KerfIsStated ? Provenance.Plant : Provenance.CommonPractice, request.KerfIsStated ? "with the question" : "usual for a bimetal blade of 34 x 1.1 mm; common practice, no source"),
            Derived("removal_at_the_widest_place", CutPower.RemovalCm3Min(Curve.Blade.KerfMm, _estimate.Width.WidestMm, Curve.DescentRateMmMin(_estimate.Width.WidestAtMm)), "cm3/min", "kerf x width x descent"),
            EfficiencyFactor(machine.DriveEfficiency),
        };
        if (idle is { } air)
            factors.Add(Plant("idle_power", air, "kW", "with the question"));
        if (rated is { } most)
            factors.Add(Plant("rated_power", most, "kW", request.SourceOf("ratedPower")));
        return new("motor_power", "Motor power")
        {
            Figures =
            [
                new("peak_kw", "peak, at the widest place", peak, "kW"),
                new("mean_kw", "mean over the cut", mean, "kW"),
                new("peak_share_of_rated", "peak, share of rated", peak / rated, "share"),
                new("mean_share_of_rated", "mean, share of rated", mean / rated, "share"),
            ],
            Rule = idle is null ? "kc x removal / (60000 x efficiency)" : "idle power + kc x removal / (60000 x efficiency)",
            Factors = factors,
            Missing = rated is null ? ["rated power of the motor, for its share (--rated-power)"] : [],
            Remarks = idle is null ? ["This is the power for cutting alone; a blade running in air takes some more (--idle-power)."] : [],
        };
    }

    private EstimateItem? Bar()
    {
        if (_estimate.Bar is not { } bar)
            return null;
        var perCut = Job.Section.PiecesPerCut;
        var factors = new List<RateFactor>
        {
            Plant("bar_length", _question.BarLengthMm!.Value, "mm", "with the question"),
            Plant("part_length", Job.PartLengthMm!.Value, "mm", "with the question"),
            new("kerf_along_the_bar", _estimate.KerfAlongBarMm, "mm", request.KerfIsStated ? Provenance.Plant : Provenance.CommonPractice, Job.Section.MitreDegrees == 0 ? "kerf of the blade" : "kerf / cos(mitre)"),
        };
        if (_question.TrimMm > 0)
            factors.Add(Plant("trim", _question.TrimMm, "mm", "with the question"));
        if (_question.HoldMm > 0)
            factors.Add(Plant("held_by_the_vise", _question.HoldMm, "mm", "with the question"));
        if (perCut > 1)
            factors.Add(Derived("bars_in_the_bundle", perCut, "", "from the section"));
        return new("bar", perCut > 1 ? "Bundle of bars" : "Bar")
        {
            Figures = [new("parts", "parts", (double)bar.Parts * perCut, ""), new("cuts", _question.TrimMm > 0 ? "cuts, the trim cut among them" : "cuts", bar.Cuts, ""), new("remnant_mm", "remnant", bar.RemnantMm, "mm")],
            Rule = "whole parts of (bar - trim - held) / (part + kerf); a trim costs its kerf too",
            Factors = factors,
            Remarks = _question.HoldMm > 0 ? [] : ["Nothing is stated that the vise must hold (--hold): the last part may be what is left."],
        };
    }

    private EstimateItem? Quantity()
    {
        if (_estimate.Quantity is not { } plan)
            return null;
        var figures = new List<EstimateFigure>
        {
            new("pieces", "parts wanted", plan.Pieces, ""),
            new("cuts", "cuts", (double)plan.PartCuts + plan.TrimCuts, ""),
            new("total_time_s", "cutting and handling", plan.TotalSeconds, "s"),
            new("total_cut_time_s", "cutting alone", plan.CutSeconds, "s"),
        };
        if (plan.Bars is { } bars)
            figures.Insert(1, new("bars", Job.Section.PiecesPerCut > 1 ? "bundles of bars" : "bars", bars, ""));
        var remarks = new List<string> { "The loading of bars, blade changes and waiting are not in it." };
        if (plan.TotalSeconds is null)
            remarks.Add("For the handling, see what the cycle time misses.");
        if (_question.BladeAreaCm2 is not null)
            remarks.Add("The blade is broken in on the way; each cut until then takes less than the one before.");
        return new("quantity", "Quantity")
        {
            Figures = figures,
            Rule = "cuts x cut time, and the handling of each",
            Factors =
            [
                Derived("part_cuts", plan.PartCuts, "", "cuts that part off pieces"),
                Derived("trim_cuts", plan.TrimCuts, "", plan.Bars is null ? "no bar length stated" : "one a bar where trimmed"),
                Derived("cut_time", Standard.CutSeconds, "s", "the first cut"),
            ],
            Remarks = remarks,
        };
    }

    private RateFactor Pitch() => Job.Blade is null
        ? new("tooth_pitch", Curve.Blade.PitchMm, "mm", Provenance.Published, "25.4 / mean teeth per inch, of the pitch that Machinery's Handbook, 31st ed., p. 1245, pairs with this length of cut")
        : Plant("tooth_pitch", Curve.Blade.PitchMm, "mm", "25.4 / teeth per inch");

    private RateFactor Speed() => _question.BladeSpeedMMin is { } used
        ? Plant("blade_speed", used, "m/min", "in use, with the question")
        : Derived("blade_speed", Curve.BladeSpeedMMin, "m/min", "the recommended one");

    private RateFactor EfficiencyFactor(double value) => value == new SawMachine { Name = "" }.DriveEfficiency
        ? new("drive_efficiency", value, "", Provenance.CommonPractice, "share of the motor's power that reaches the blade; common practice, no source")
        : Plant("drive_efficiency", value, "", request.SourceOf("driveEfficiency"));

    private static bool IsCap(RateFactor factor) => factor.Name.StartsWith("descent_cap", StringComparison.Ordinal);

    private static RateFactor Derived(string name, double value, string unit, string source) => new(name, value, unit, Provenance.Derived, source);

    private static RateFactor Plant(string name, double value, string unit, string source) => new(name, value, unit, Provenance.Plant, source);

    private static RateFactor Named(string name, Sourced value, string unit) => new(name, value.Value, unit, value.Provenance, value.Source);
}
