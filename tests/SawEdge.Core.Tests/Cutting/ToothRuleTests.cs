using SawEdge.Core.Cutting;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Tests.Cutting;

public class ToothRuleTests
{
    [Theory]
    [InlineData("square 25 mm", 4, "")]
    [InlineData("square 200 mm", 4, "More than 24")]
    [InlineData("square 12 mm", 4, "Fewer than 3")]
    [InlineData("tube 100 x 3 mm wall", 4, "Fewer than 3")]
    [InlineData("round 100 mm", 4, "")]
    public void Advice_follows_three_to_twenty_four_teeth_in_each_stretch(string section, double tpi, string advice)
    {
        // At least 3 and at most 24 teeth in the cut: https://bandsawblog.com/the-three-tooth-rule-2/ (read).
        var given = ToothRule.Advise(SectionNotation.Parse(section).Section!, new Blade { CoarseTpi = tpi, FineTpi = tpi });
        if (advice.Length == 0)
            Assert.Empty(given);
        else
            Assert.Contains(advice, Assert.Single(given), StringComparison.Ordinal);
    }

    [Fact]
    public void A_beam_is_advised_on_its_web_and_on_its_flange()
    {
        // Web 7.1 mm, flange 150 mm: no pitch suits both.
        var beam = SectionNotation.Parse("IPE 300").Section!;
        Assert.Contains("Fewer", Assert.Single(ToothRule.Advise(beam, new Blade { CoarseTpi = 3, FineTpi = 4 })), StringComparison.Ordinal);
        var onSide = SectionNotation.Parse("IPE 300, web flat").Section!;
        Assert.Empty(ToothRule.Advise(onSide, new Blade { CoarseTpi = 8, FineTpi = 12 }));
    }

    [Fact]
    public void A_variable_pitch_counts_by_its_mean() =>
        Assert.Equal(3.5 * 2, ToothRule.MeanTeeth(SectionFactory.Rectangle(50.8, 10), new Blade { CoarseTpi = 3, FineTpi = 4 }), 9);

    [Theory]
    [InlineData(6.35, 10, 14)]
    [InlineData(19.05, 6, 10)]
    [InlineData(34.9, 4, 6)]
    [InlineData(101.6, 3, 4)]
    [InlineData(152.4, 2, 3)]
    [InlineData(203.2, 2, 3)]
    public void Suitable_pitch_is_that_of_the_handbook_and_its_worked_examples(double mm, double coarse, double fine)
    {
        // Machinery's Handbook, 31st ed., p. 1245 (1/4, 3/4, 4, 8 in); band saws' manuals: tube of 1.38 in mean width 4/6 (577786, p. 10),
        // 6 in square 2/3 (1207023, p. 12).
        var blade = PitchTable.SuitableBlade(mm);
        Assert.Equal((coarse, fine), (blade.CoarseTpi, blade.FineTpi));
    }

    [Theory]
    [InlineData(6000, 250, 1.6, 0, 0, 23, 23, 213.2)]
    [InlineData(6000, 250, 1.6, 10, 150, 23, 24, 201.6)]
    [InlineData(1000, 500, 0, 0, 0, 2, 2, 0)]
    [InlineData(1001.6, 500, 1.6, 0, 0, 2, 1, 0)]
    [InlineData(100, 500, 1.6, 0, 0, 0, 0, 100)]
    public void Parts_of_a_bar_count_kerf_trim_and_what_the_vise_holds(double bar, double part, double kerf, double trim, double hold, int parts, int cuts, double remnant)
    {
        var yield = BarPlan.Parts(bar, part, kerf, trim, hold);
        Assert.Equal((parts, cuts), (yield.Parts, yield.Cuts));
        Assert.Equal(remnant, yield.RemnantMm, 6);
    }
}
