using CsCheck;
using MathNet.Numerics.Integration;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Cutting;

public class CuttingModelTests
{
    private static readonly SawMachine Saw = new() { Name = "saw" };

    private static CutJob Job(string section, string material = "1045") => new()
    {
        JobId = "1",
        Material = MaterialCatalogue.BuiltIn.Find(material)!,
        Section = SectionNotation.Parse(section).Section!,
    };

    [Theory]
    [InlineData("round 100 mm", 5)]
    [InlineData("round 100 mm", 120)]
    [InlineData("tube 100 x 6 mm wall", 200)]
    [InlineData("tube 100 x 30 mm wall", 90)]
    [InlineData("rect tube 120 x 80 x 6 mm wall", 150)]
    [InlineData("rect 100 x 50 mm", 20)]
    [InlineData("IPE 300", 60)]
    [InlineData("IPE 300, web flat", 150)]
    [InlineData("L 100x100x10, heel up", 250)]
    [InlineData("UPN 200, turned 33 deg", 100)]
    [InlineData("bundle 2 x 3 of tube 40 x 4 mm wall", 120)]
    [InlineData("hex 60 mm, point down, mitre 45 deg", 90)]
    public void Cut_time_is_the_integral_of_one_over_descent(string text, double cap)
    {
        var job = Job(text);
        var curve = new CutCurve(job.Section, job.Material, new Blade { CoarseTpi = 4, FineTpi = 4 }, 60, 70, cap);
        var byLibrary = 0.0;
        double[] stops = [0, .. job.Section.BreaksMm, job.Section.HeightMm];
        for (var i = 1; i < stops.Length; i++)
            byLibrary += GaussKronrodRule.Integrate(d => 60 / curve.DescentRateMmMin(d), stops[i - 1], stops[i], out _, out _, 1e-10, 25);
        Assert.Equal(byLibrary, curve.CutSeconds, 1e-7 * byLibrary);
    }

    [Fact]
    public void Cut_time_without_a_cap_in_force_is_area_over_rate()
    {
        var standard = CuttingModel.Standard(Job("rect 100 x 50 mm"), Saw);
        Assert.Equal(50 / standard.RateCm2Min * 60, standard.CutSeconds, 9);
        Assert.Null(standard.CycleSeconds);
        Assert.Contains("rest height of the head", standard.MissingForCycle);
    }

    [Fact]
    public void The_rate_is_the_product_of_its_named_factors()
    {
        var standard = CuttingModel.Standard(Job("round 4 in"), Saw, 60, 100);
        var product = standard.Factors.Where(f => f.Unit is "" or "cm2/min").Aggregate(1.0, (p, f) => p * f.Value);
        Assert.Equal(product, standard.RateCm2Min, 9);
        Assert.All(standard.Factors, f => Assert.NotEmpty(f.Source));
    }

    [Fact]
    public void The_plants_own_standard_overrides_the_catalogue()
    {
        var byTime = CuttingModel.Standard(Job("round 100 mm") with { Standard = new PlantStandard(95, null) }, Saw);
        Assert.Equal(95, byTime.CutSeconds, 9);
        var byRate = CuttingModel.Standard(Job("round 100 mm") with { Standard = new PlantStandard(null, 60) }, Saw);
        Assert.Equal(Math.PI * 25, byRate.CutSeconds, 9);
        Assert.Equal(StandardBasis.PlantRate, byRate.Basis);
    }

    [Fact]
    public void The_standard_cycle_adds_handling()
    {
        var machine = Saw with
        {
            ShuttleStrokeMm = 500,
            IndexStrokeS = 6,
            ClampS = 1,
            UnclampS = 1,
            RestHeightMm = 200,
            ApproachMmMin = 3000,
            ReturnMmMin = 6000,
        };
        var standard = CuttingModel.Standard(Job("round 100 mm") with { PartLengthMm = 1200 }, machine);

        // 3 strokes of 6 s, 2 s of clamping, 100 mm at 3 m/min, 200 mm at 6 m/min.
        Assert.Equal(18 + 2 + 2 + 2, standard.HandlingSeconds!.Value, 9);
        Assert.Equal(standard.CutSeconds + 24, standard.CycleSeconds!.Value, 9);
    }

    [Fact]
    public void Time_falls_with_rate_and_never_below_that_of_the_cap() => Gen.Select(Gen.Double[5, 300], Gen.Double[1.01, 3], Gen.Double[20, 800], Gen.Int[0, 4]).Sample((rate, faster, cap, kind) =>
    {
        var job = Job(new[] { "round 100 mm", "tube 100 x 8 mm wall", "IPE 200", "L 80x80x8, heel up", "rect 100 x 50 mm" }[kind]);
        var slow = Curve(rate).CutSeconds;
        var quick = Curve(rate * faster).CutSeconds;
        var floor = job.Section.HeightMm / cap * 60;
        return quick <= slow * (1 + 1e-12) && quick >= floor * (1 - 1e-12) && quick >= slow / faster * (1 - 1e-12);

        CutCurve Curve(double r) => new(job.Section, job.Material, new Blade { CoarseTpi = 4, FineTpi = 4 }, 60, r, cap);
    });

    [Fact]
    public void Twice_the_size_at_four_times_the_rate_and_twice_the_cap_takes_as_long() => Gen.Select(Gen.Double[20, 200], Gen.Double[0.05, 0.4], Gen.Double[10, 100], Gen.Double[50, 500]).Sample((size, wall, rate, cap) =>
    {
        var one = new CutCurve(SectionFactory.RoundTube(size, wall * size), Job("round 10 mm").Material, new Blade { CoarseTpi = 4, FineTpi = 4 }, 60, rate, cap);
        var two = new CutCurve(SectionFactory.RoundTube(2 * size, wall * 2 * size), Job("round 10 mm").Material, new Blade { CoarseTpi = 4, FineTpi = 4 }, 60, 4 * rate, 2 * cap);
        return Math.Abs((two.CutSeconds / one.CutSeconds) - 1) < 1e-9;
    });

    [Fact]
    public void TimeToDepth_rises_evenly_from_contact_to_breakthrough() => Gen.Select(Gen.Double[0, 1], Gen.Double[0, 1]).Sample((a, b) =>
    {
        var curve = CuttingModel.Standard(Job("IPE 200"), Saw).Curve;
        var (low, high) = (Math.Min(a, b) * 200, Math.Max(a, b) * 200);
        var between = curve.TimeToDepthS(high) - curve.TimeToDepthS(low);
        return between >= -1e-9 && between <= ((high - low) / 10 * 60) + 1e-9 && Math.Abs(curve.TimeToDepthS(200) - curve.CutSeconds) < 1e-9;
    });

    [Fact]
    public void Descent_is_the_least_of_rate_saw_and_feed()
    {
        var job = Job("round 100 mm") with { Blade = new Blade { CoarseTpi = 4, FineTpi = 4 } };
        var standard = CuttingModel.Standard(job, Saw with { MaximumDescentMmMin = 250 }, 67.1);
        Assert.Equal(250, standard.Curve.DescentRateMmMin(0));
        Assert.Equal(standard.RateCm2Min, standard.Curve.DescentRateMmMin(50), 9);

        // Without the saw's limit the feed per tooth holds it: h_max * 1000 * vb / p.
        var free = CuttingModel.Standard(job, Saw, 67.1);
        Assert.Equal(0.05 * 1000 * 67.1 / 6.35, free.Curve.DescentRateMmMin(0), 9);
        Assert.Equal(0.05, free.Curve.FeedPerToothMm(0), 9);
    }

    [Fact]
    public void Blade_speed_and_break_in_and_coolant_slow_the_cut_by_their_factors()
    {
        var job = Job("rect 100 x 100 mm");
        var full = CuttingModel.Standard(job, Saw);
        var recommended = full.Factors.Single(f => f.Name == "recommended_speed").Value;
        Assert.Equal(full.RateCm2Min / 2, CuttingModel.Standard(job, Saw, recommended / 2).RateCm2Min, 9);

        // Break-in in carbon steel: half the rate at first, three quarters half way through 62.5 in2, all of it after.
        Assert.Equal(full.RateCm2Min * 0.5, CuttingModel.Standard(job, Saw, null, 0).RateCm2Min, 9);
        Assert.Equal(full.RateCm2Min * 0.75, CuttingModel.Standard(job, Saw, null, 62.5 * 6.4516 / 2).RateCm2Min, 9);
        Assert.Equal(full.RateCm2Min, CuttingModel.Standard(job, Saw, null, 500).RateCm2Min, 9);
        var alloy = Job("rect 100 x 100 mm", "4140");
        Assert.Equal(CuttingModel.Standard(alloy, Saw).RateCm2Min * 0.75, CuttingModel.Standard(alloy, Saw, null, 0).RateCm2Min, 9);

        // Dry: the middle of the handbook's 30 to 50 %.
        Assert.Equal(full.RateCm2Min * 0.6, CuttingModel.Standard(job with { Coolant = Coolant.Dry }, Saw).RateCm2Min, 9);
        Assert.Equal(full.RateCm2Min * 175 / 250, CuttingModel.Standard(job with { HardnessHb = 250 }, Saw).RateCm2Min, 9);
    }

    [Theory]
    [InlineData(0.25, 1.15)]
    [InlineData(0.75, 1.12)]
    [InlineData(1.25, 1.10)]
    [InlineData(2.5, 1.05)]
    [InlineData(4, 1.00)]
    [InlineData(8, 0.88)]
    public void Band_speed_follows_the_length_of_cut(double inches, double factor)
    {
        // Machinery's Handbook, 31st ed., p. 1245: +15, +12, +10, 0, -12 %; +5 % at 2-1/2 in stands in a band saw's manual (577786, p. 10) only.
        var job = Job(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"square {inches} in"));
        Assert.Equal(67.1 * factor, CuttingModel.RecommendedSpeedMMin(job, PitchTable.SuitableBlade(25)), 6);
    }

    [Fact]
    public void Carbon_steel_blades_run_at_half_speed()
    {
        // Machinery's Handbook, 31st ed., p. 1245.
        var job = Job("square 4 in");
        var carbon = new Blade { Kind = BladeKind.CarbonSteel, CoarseTpi = 4, FineTpi = 4 };
        Assert.Equal(67.1 / 2, CuttingModel.RecommendedSpeedMMin(job, carbon), 9);
    }

    [Fact]
    public void Power_along_the_depth_is_idle_and_specific_force_times_removal()
    {
        var job = Job("rect 100 x 50 mm") with { Blade = new Blade { CoarseTpi = 4, FineTpi = 4, KerfMm = 1.6 } };
        var curve = CuttingModel.Standard(job, Saw, 67.1).Curve;
        var feed = curve.FeedPerToothMm(25);
        var removal = 1.6 * curve.RateAtCm2Min(25) / 10;
        var force = 1675 * Math.Pow(feed, -0.2);
        Assert.Equal(0.9 + (force * removal / 60_000 / 0.8), curve.PowerKw(25, 0.9, 0.8), 9);

        // Energy is power times time where nothing changes along the depth; the specific energy in J/mm3 is the force in kN/mm2.
        Assert.Equal(curve.NetPowerKw(25) * curve.CutSeconds, curve.NetEnergyKj(), 6);
        Assert.Equal(force / 1000, curve.NetEnergyKj() * 1000 / (100 * 50 * 1.6), 6);
        Assert.Equal(0, curve.NetPowerKw(-1));
    }

    [Fact]
    public void Specific_energy_of_sawing_steel_lies_where_sharp_teeth_put_it()
    {
        // A bound, not a published value: the handbook's 1.9 to 2.3 J/mm3 of turning at 0.3 mm, times its feed factor (from memory) at
        // 0.02 mm, is 3 to 4 J/mm3 with sharp teeth; feeds in a bar are smaller still.
        var energy = CuttingModel.Standard(Job("round 100 mm"), Saw).Curve;
        var specific = energy.NetEnergyKj() * 1000 / (energy.Section.AreaCm2 * 100 * energy.Blade.KerfMm);
        Assert.InRange(specific, 3, 8);
    }

    [Fact]
    public void Plants_time_keeps_the_shape_of_the_descent_and_stays_finite()
    {
        var job = Job("tube 100 x 8 mm wall");
        var free = CuttingModel.Standard(job, Saw).Curve;
        var plant = CuttingModel.Standard(job with { Standard = new PlantStandard(500, null) }, Saw).Curve;
        var ratio = plant.DescentRateMmMin(4) / free.DescentRateMmMin(4);
        foreach (var depth in new[] { 0.0, 0.01, 8, 30, 50, 99.9, 100 })
        {
            Assert.True(double.IsFinite(plant.DescentRateMmMin(depth)));
            Assert.Equal(ratio, plant.DescentRateMmMin(depth) / free.DescentRateMmMin(depth), 9);
        }
    }

    [Fact]
    public void Questions_along_the_depth_allocate_nothing()
    {
        var curve = CuttingModel.Standard(Job("IPE 200"), Saw).Curve;
        Assert.Equal(0, Allocations.Of(Ask));

        void Ask()
        {
            for (var i = 0; i <= 50; i++)
            {
                curve.DescentRateMmMin(i * 4);
                curve.PowerKw(i * 4, 1, 0.8);
                curve.TimeToDepthS(i * 4);
            }
        }
    }

    [Fact]
    public void A_section_larger_than_the_saw_takes_is_named()
    {
        var machine = Saw with { CapacityHeightMm = 250, CapacityWidthMm = 300 };
        Assert.Empty(MachineFit.Problems(SectionFactory.Rectangle(300, 250), machine));
        Assert.Equal(2, MachineFit.Problems(SectionFactory.Rectangle(301, 251), machine).Count);
        Assert.Contains("250 mm at most", MachineFit.Problems(SectionFactory.Round(260), machine)[0], StringComparison.Ordinal);
        Assert.Empty(MachineFit.Problems(SectionFactory.Round(5000), Saw));
    }

    [Fact]
    public void Advice_names_a_blade_speed_far_from_the_recommended_one()
    {
        var job = Job("square 50 mm") with { Blade = new Blade { CoarseTpi = 4, FineTpi = 6 } };
        Assert.Empty(CuttingModel.Standard(job, Saw, 70).Advice);
        Assert.Contains("recommended", Assert.Single(CuttingModel.Standard(job, Saw, 120).Advice), StringComparison.Ordinal);
        Assert.Contains("at most", Assert.Single(CuttingModel.Standard(job, Saw with { CapacityHeightMm = 40 }, 70).Advice), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(1200, 500, 3)]
    [InlineData(1000, 500, 2)]
    [InlineData(1, 500, 1)]
    [InlineData(1500.0000000001, 500, 3)]
    public void Strokes_are_the_next_whole_number(double length, double stroke, int strokes) => Assert.Equal(strokes, Handling.Strokes(length, stroke));

    [Fact]
    public void Power_agrees_with_the_worked_example()
    {
        // Turning, ap 3 mm, f 0.2 mm, vc 120 m/min: 72 cm3/min; kc 3100 N/mm2, efficiency 0.8: 4.65 kW (technical information of a tool maker).
        Assert.Equal(4.65, CutPower.NetKw(3100, 3 * 0.2 * 120) / 0.8, 9);

        // Face milling, ap 2 mm, ae 80 mm, vf 280 mm/min, kc 1800 N/mm2, efficiency 0.8: 1.68 kW (the same).
        Assert.Equal(1.68, CutPower.NetKw(1800, 2 * 80 * 280 / 1000.0) / 0.8, 9);
    }
}
