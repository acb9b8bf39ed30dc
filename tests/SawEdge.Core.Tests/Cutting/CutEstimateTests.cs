using CsCheck;
using MathNet.Numerics.Integration;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Tests.Cutting;

public class CutEstimateTests
{
    private static readonly Blade Blade = new() { CoarseTpi = 4, FineTpi = 4, KerfMm = 1.5 };

    private static EstimateQuestion Question(string section, string material = "1045") => new()
    {
        Machine = new SawMachine { Name = "saw", MaximumDescentMmMin = 200 },
        Job = new CutJob { JobId = "1", Material = MaterialCatalogue.BuiltIn.Find(material)!, Section = SectionNotation.Parse(section).Section!, Blade = Blade },
    };

    [Theory]
    [InlineData("round 100 mm", 100)]
    [InlineData("rect 100 x 50 mm", 100)]
    [InlineData("square 50 mm, mitre 60 deg", 100)]
    [InlineData("hex 50 mm, point down", 50)]
    [InlineData("bundle 2 x 3 of round 30 mm", 90)]
    [InlineData("polygon (0, 0) (80, 0) (40, 60) mm", 80)]
    public void The_widest_place_is_found(string section, double widest) =>
        Assert.Equal(widest, WidthRange.Of(SectionNotation.Parse(section).Section!).WidestMm, 1e-5 * widest);

    [Fact]
    public void A_tube_is_widest_where_its_bore_begins()
    {
        // At the depth of the wall the chord of the outer circle is 2 sqrt(50^2 - 40^2) = 60 mm.
        var range = WidthRange.Of(SectionFactory.RoundTube(100, 10));
        Assert.Equal(60, range.WidestMm, 3);
        Assert.Equal(10, Math.Min(range.WidestAtMm, 100 - range.WidestAtMm), 3);
    }

    [Theory]
    [InlineData("IPE 300, turned 33 deg")]
    [InlineData("tube 100 x 6 mm wall")]
    [InlineData("UPN 200, toes up")]
    [InlineData("L 100x100x10, heel up")]
    public void Peaks_stand_above_every_place_along_the_depth(string section)
    {
        var question = Question(section);
        var estimate = CutEstimate.Of(question);
        var curve = estimate.Standard.Curve;
        for (var i = 0; i < 2000; i++)
        {
            var depth = curve.Section.HeightMm * (i + 0.5) / 2000;
            Assert.True(curve.NetPowerKw(depth) / 0.8 <= estimate.PeakCuttingKw * (1 + 1e-9));
            Assert.InRange(curve.FeedPerToothMm(depth), estimate.LeastFeedMm * (1 - 1e-9), estimate.GreatestFeedMm * (1 + 1e-9));
            Assert.True(curve.Section.WidthAt(depth) / Blade.PitchMm <= estimate.MostTeeth * (1 + 1e-9));
        }
    }

    /// <summary>The mean power against an integral by MathNet.Numerics (Gauss-Kronrod) over time.</summary>
    [Theory]
    [InlineData("round 100 mm")]
    [InlineData("IPE 300, web flat")]
    public void The_mean_power_is_the_integral_over_time(string section)
    {
        var estimate = CutEstimate.Of(Question(section));
        var curve = estimate.Standard.Curve;
        double[] stops = [0, .. curve.Section.BreaksMm, curve.Section.HeightMm];
        var energy = 0.0;
        for (var i = 1; i < stops.Length; i++)
            energy += GaussKronrodRule.Integrate(d => curve.NetPowerKw(d) * 60 / curve.DescentRateMmMin(d), stops[i - 1], stops[i], out _, out _, 1e-10, 25);
        // Where the cap gives way to the rate the descent bends, which both integrations step across.
        Assert.Equal(energy / curve.CutSeconds / 0.8, estimate.MeanCuttingKw, 1e-5 * estimate.MeanCuttingKw);
    }

    [Fact]
    public void The_recommended_speed_is_the_product_of_its_factors()
    {
        var job = Question("round 50 mm").Job with { Coolant = Coolant.Dry, Blade = Blade with { Kind = BladeKind.CarbonSteel } };
        var factors = CuttingModel.SpeedFactors(job, job.Blade);
        Assert.Equal(["reference_speed", "length", "coolant", "blade"], factors.Select(f => f.Name));
        Assert.Equal(factors.Aggregate(1.0, (p, f) => p * f.Value), CuttingModel.RecommendedSpeedMMin(job, job.Blade), 12);
        Assert.Equal(0.5, factors[3].Value);
    }

    [Fact]
    public void A_mitre_takes_a_longer_kerf_of_the_bar_and_a_bundle_gives_all_its_bars()
    {
        var question = Question("bundle 2 x 5 of round 30 mm, mitre 60 deg");
        question = question with { BarLengthMm = 1000, Job = question.Job with { PartLengthMm = 97, Pieces = 95 } };
        var estimate = CutEstimate.Of(question);
        Assert.Equal(3, estimate.KerfAlongBarMm, 9);
        Assert.Equal(new BarYield(10, 10, 0), estimate.Bar!.Value with { RemnantMm = Math.Round(estimate.Bar.Value.RemnantMm, 6) });
        Assert.Equal(10, question.Job.Section.PiecesPerCut);
        Assert.Equal((10, 0, 1), (estimate.Quantity!.PartCuts, estimate.Quantity.TrimCuts, estimate.Quantity.Bars!.Value));
    }

    [Fact]
    public void A_new_blade_is_broken_in_over_a_quantity()
    {
        // Each cut of 50 cm2 stands where the one before it ended; from 62.5 in2 = 403.2 cm2 on, after the ninth, every cut takes the same.
        var question = Question("rect 100 x 50 mm") with { BladeAreaCm2 = 0 };
        question = question with { Job = question.Job with { Pieces = 20 } };
        var sum = Enumerable.Range(0, 20).Sum(i => CuttingModel.Standard(question.Job, question.Machine, null, 50.0 * i).CutSeconds);
        var plan = CutEstimate.Of(question).Quantity!;
        Assert.Equal(sum, plan.CutSeconds, 6);
        Assert.Null(plan.TotalSeconds);
        Assert.True(plan.CutSeconds > 20 * CuttingModel.Standard(question.Job, question.Machine).CutSeconds);
    }

    [Fact]
    public void A_quantity_never_takes_fewer_parts_than_wanted_nor_a_whole_bar_too_many() =>
        Gen.Select(Gen.Double[500, 7000], Gen.Double[10, 400], Gen.Double[0, 50], Gen.Int[1, 500]).Sample((bar, part, trim, pieces) =>
        {
            var question = Question("round 60 mm");
            question = question with { BarLengthMm = bar, TrimMm = trim, Job = question.Job with { PartLengthMm = part, Pieces = pieces } };
            var estimate = CutEstimate.Of(question);
            var plan = estimate.Quantity!;
            var yield = estimate.Bar!.Value;
            Assert.True(plan.Bars * yield.Parts >= pieces);
            Assert.True((plan.Bars - 1) * yield.Parts < pieces);
            Assert.Equal(bar, yield.RemnantMm + (yield.Parts * part) + (yield.Cuts * 1.5) + trim, 1.5 + 1e-6);
        });
}
