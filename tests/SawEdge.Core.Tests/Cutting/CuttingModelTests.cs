using MathNet.Numerics.Integration;
using SawEdge.Core.Cutting;
using SawEdge.Core.Materials;
using SawEdge.Core.Sections;

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
    public void Cut_time_is_the_integral_of_one_over_descent(string text, double cap)
    {
        var job = Job(text);
        var curve = new CutCurve(job.Section, job.Material, new Blade { CoarseTpi = 4, FineTpi = 4 }, 60, 70, cap);
        var byLibrary = 0.0;
        double[] stops = [0, .. job.Section.BreaksMm, job.Section.HeightMm];
        for (var i = 1; i < stops.Length; i++)
            byLibrary += DoubleExponentialTransformation.Integrate(d => 60 / curve.DescentRateMmMin(d), stops[i - 1], stops[i], 1e-10);
        Assert.Equal(byLibrary, curve.CutSeconds, 1e-4 * byLibrary);
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
            ShuttleStrokeMm = 500, IndexStrokeS = 6, ClampS = 1, UnclampS = 1, RestHeightMm = 200, ApproachMmMin = 3000, ReturnMmMin = 6000,
        };
        var standard = CuttingModel.Standard(Job("round 100 mm") with { PartLengthMm = 1200 }, machine);

        // 3 strokes of 6 s, 2 s of clamping, 100 mm at 3 m/min, 200 mm at 6 m/min.
        Assert.Equal(18 + 2 + 2 + 2, standard.HandlingSeconds!.Value, 9);
        Assert.Equal(standard.CutSeconds + 24, standard.CycleSeconds!.Value, 9);
    }

    [Fact]
    public void Power_agrees_with_the_worked_example()
    {
        // Turning, ap 3 mm, f 0.2 mm, vc 120 m/min: 72 cm3/min; kc 3100 N/mm2, efficiency 0.8: 4.65 kW (technical information of a tool maker).
        Assert.Equal(4.65, CutPower.NetKw(3100, 3 * 0.2 * 120) / 0.8, 9);

        // Face milling, ap 2 mm, ae 80 mm, vf 280 mm/min, kc 1800 N/mm2, efficiency 0.8: 1.68 kW (the same).
        Assert.Equal(1.68, CutPower.NetKw(1800, 2 * 80 * 280 / 1000.0) / 0.8, 9);
    }
}
