using SawEdge.Core.Cutting;
using SawEdge.Core.Sections;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Tests.Saws;

public sealed class CutPathTests
{
    public static TheoryData<string> Sections => ["rect 80 x 50 mm", "round 100 mm", "tube 114.3 x 6.3 mm wall", "rect tube 100 x 60 x 5 mm corner 10 mm", "round 12 mm"];

    private static CutConditions Conditions(Section section, VirtualMaterial material, double rate = 60, double cap = 1e9) => new()
    {
        Section = section,
        Material = material,
        RateCm2Min = rate,
        DescentCapMmMin = cap,
        BladeSpeedMMin = 70,
        ToothPitchMm = 8,
        KerfMm = 1.6,
        Efficiency = 0.8,
    };

    [Fact]
    public void Duration_RectangleAtConstantRate_IsAreaOverRate()
    {
        // 80 x 50 mm are 40 cm2; at 60 cm2/min 40 s.
        var path = new CutPath(Conditions(SectionFactory.Rectangle(80, 50), Make.FlatForce));
        Assert.Equal(40, path.DurationS, 1e-9);
    }

    [Theory]
    [MemberData(nameof(Sections))]
    public void Duration_NoCap_IsAreaOverRate(string notation)
    {
        var section = SectionNotation.Parse(notation).Section!;
        var path = new CutPath(Conditions(section, Make.FlatForce));
        Assert.Equal(section.AreaCm2 / 60 * 60, path.DurationS, section.AreaCm2 * 1e-6);
    }

    [Theory]
    [MemberData(nameof(Sections))]
    public void Energy_ForceIndependentOfFeed_IsForceTimesVolumeOverEfficiency(string notation)
    {
        var section = SectionNotation.Parse(notation).Section!;
        var path = new CutPath(Conditions(section, Make.FlatForce, cap: 150));
        // 4000 N/mm2 is 4 J/mm3 at the teeth; in kJ: cm2 * 100 mm2 * kerf * 4 J / 0.8 / 1000.
        var expected = section.AreaCm2 * 100 * 1.6 * 4 / 0.8 / 1000;
        Assert.Equal(expected, path.EnergyKj, expected * 1e-6);
    }

    [Theory]
    [MemberData(nameof(Sections))]
    public void Duration_WithCap_AgreesWithABruteForceIntegration(string notation)
    {
        var section = SectionNotation.Parse(notation).Section!;
        var path = new CutPath(Conditions(section, Make.Steel, cap: 150));
        // Midpoint rule in half a million steps (which still step across jumps: 3 in 10^6), and the cutting model's equation written out once more.
        const int Steps = 500_000;
        double minutes = 0;
        for (var i = 0; i < Steps; i++)
        {
            var width = section.WidthAt(section.HeightMm * (i + 0.5) / Steps);
            minutes += section.HeightMm / Steps / Math.Min(60 * 100 / width, 150);
        }

        Assert.Equal(minutes * 60, path.DurationS, minutes * 60 * 3e-6);
    }

    [Theory]
    [MemberData(nameof(Sections))]
    public void Duration_AndPower_AgreeWithTheGatewaysOwnModel(string notation)
    {
        // The product's model is written by others from the same equations: two solutions must agree.
        var section = SectionNotation.Parse(notation).Section!;
        var material = Core.Materials.MaterialCatalogue.BuiltIn.Find("1045")!;
        var blade = new Blade { CoarseTpi = 3, FineTpi = 3 };
        var curve = new CutCurve(section, material, blade, 70, 45, 120);
        var conditions = Conditions(section, new VirtualMaterial("1045", material.Kc11NMm2.Value, material.Mc.Value), 45, 120) with
        {
            ToothPitchMm = blade.PitchMm,
            KerfMm = blade.KerfMm,
        };
        var path = new CutPath(conditions);
        Assert.Equal(curve.CutSeconds, path.DurationS, curve.CutSeconds * 1e-5);
        var depth = section.HeightMm * 0.4;
        var width = section.WidthAt(depth);
        var descent = conditions.DescentMmMin(depth, width);
        var cursor = 0;
        Assert.Equal(CutPower.NetKw(material, blade, width, descent, 70) / 0.8, path.NetKwAt(path.TimeAt(depth), ref cursor), 1e-4);
    }

    [Fact]
    public void DepthAt_AndTimeAt_AreInverse()
    {
        var path = new CutPath(Conditions(SectionFactory.RoundTube(114.3, 6.3), Make.Steel, cap: 150), 33.3);
        var cursor = 0;
        for (var depth = 0.1; depth < 114.3; depth += 1.7)
            Assert.Equal(depth, path.DepthAt(path.TimeAt(depth), ref cursor), 1e-9);
        Assert.Equal(33.3, path.DepthAt(path.TimeAt(33.3), ref cursor), 1e-9);
    }

    [Fact]
    public void HardZone_SlowsAndLoadsOnlyInside()
    {
        var free = new CutPath(Conditions(SectionFactory.Rectangle(80, 50), Make.FlatForce));
        var hard = new CutPath(Conditions(SectionFactory.Rectangle(80, 50), Make.FlatForce) with { HardZone = new(20, 25, 1.5, 0.8) });
        // 5 mm of 50 take 1 / 0.8 of their 4 s; there the power rises by 1.5 * 0.8.
        Assert.Equal(free.DurationS + 1, hard.DurationS, 1e-6);
        var cursor = 0;
        Assert.Equal(free.NetKwAt(10, ref cursor), hard.NetKwAt(10, ref cursor), 1e-9);
        Assert.Equal(free.NetKwAt(17, ref cursor) * 1.5 * 0.8, hard.NetKwAt(18, ref cursor), 1e-9);
    }
}
