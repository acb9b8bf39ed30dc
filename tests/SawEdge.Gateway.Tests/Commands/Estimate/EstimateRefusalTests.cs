namespace SawEdge.Gateway.Tests.Commands.Estimate;

/// <summary>Nonsense is refused with a line for each mistake, which names the option and says what would be right.</summary>
public class EstimateRefusalTests
{
    private static readonly string[] Good = ["--material", "1045", "--section", "round 60 mm"];

    [Theory]
    [InlineData("--material", "1O45", "--material: '1O45' is not in the catalogue; the nearest names are 1045")]
    [InlineData("--material", "", "--material: the material is missing")]
    [InlineData("--section", "round 100", "--section: 'round 100' at character 7: 100 has no unit; write mm or in after it")]
    [InlineData("--section", "round 0 mm", "0 mm is not above zero")]
    [InlineData("--section", "round -5 mm", "-5 mm is not above zero")]
    [InlineData("--section", "round 5 furlong", "'furlong' is no known unit; known are mm, cm, m, in and ft")]
    [InlineData("--section", "tube 100 x 60 mm wall", "not thinner than half the diameter (50 mm)")]
    [InlineData("--section", "polygon (0,0) (80,60) (80,0) (0,60) mm", "side 1 and side 3 cross or touch")]
    [InlineData("--section", "IPE 305", "nearest are IPE 300")]
    [InlineData("--blade", "golden 3 tpi", "--blade: 'golden' has no meaning for a blade")]
    [InlineData("--blade", "bimetal", "--blade: 'bimetal' has no pitch")]
    [InlineData("--part-length", "250", "--part-length: '250' is no length above zero; write for example 250 mm or 10 in")]
    [InlineData("--part-length", "-250 mm", "--part-length: '-250 mm' is no length above zero")]
    [InlineData("--pieces", "0", "--pieces: '0' is no whole number above zero")]
    [InlineData("--hardness", "60 HRC", "--hardness: '60 HRC' is no Brinell hardness from 20 to 800")]
    [InlineData("--coolant", "beer", "--coolant: 'beer' is none of flood, mist and dry")]
    [InlineData("--standard", "95", "--standard: '95' is neither a time nor a rate")]
    [InlineData("--blade-speed", "0 m/min", "--blade-speed: '0 m/min' is out of range; write 1 m/min to 3000 m/min.")]
    [InlineData("--blade-area", "5 mm", "--blade-area: '5 mm' is no area; write for example 400 cm2 or 62 in2.")]
    [InlineData("--rated-power", "5.5", "--rated-power: '5.5' has no unit; write for example 5.5 kW or 7.5 hp.")]
    [InlineData("--drive-efficiency", "120 %", "--drive-efficiency: '120 %' is out of range")]
    [InlineData("--trim", "10 mm", "--trim: belongs to a bar; write --bar-length too, or leave it out.")]
    [InlineData("--hold", "10 mm", "--hold: belongs to a bar; write --bar-length too, or leave it out.")]
    [InlineData("--bar-length", "6 m", "--bar-length: what a bar yields depends on the length of a part; write --part-length too.")]
    [InlineData("--saw", "saw-1", "--saw: needs the configuration that describes the saw; write --config FILE.")]
    [InlineData("--config", "/nowhere/sawedge.json", "there is no file /nowhere/sawedge.json")]
    [InlineData("--catalogue", "/nowhere/own.json", "--catalogue: there is no file /nowhere/own.json.")]
    [InlineData("--capacity-height", "50 mm", "--section: round 60 mm has a height of 60 mm; the saw takes 50 mm at most.")]
    public void One_mistake_is_one_line(string option, string value, string message)
    {
        var at = Array.IndexOf(Good, option);
        string[] arguments = at < 0 ? [.. Good, option, value] : [.. Good[..at], option, value, .. Good[(at + 2)..]];
        Assert.Contains(message, Assert.Single(Estimated.Refused(arguments)), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("7 m", "0 mm", "0 mm", "7000 mm is longer than the bar of 6000 mm")]
    [InlineData("5995 mm", "10 mm", "0 mm", "a bar of 6000 mm gives no part of 5995 mm beside its kerf, trim and what the vise holds")]
    [InlineData("5900 mm", "0 mm", "200 mm", "gives no part of 5900 mm")]
    public void A_part_that_no_bar_gives_is_refused(string part, string trim, string hold, string message) =>
        Assert.Contains(message, Assert.Single(Estimated.Refused([.. Good, "--part-length", part, "--bar-length", "6 m", "--trim", trim, "--hold", hold])), StringComparison.Ordinal);

    [Fact]
    public void Several_mistakes_are_told_at_once() =>
        Assert.Equal(4, Estimated.Refused("-m", "1O45", "-s", "round 100", "--pieces", "x", "--rated-power", "strong").Length);

    [Fact]
    public void An_idle_power_above_the_rated_one_is_refused() =>
        Assert.Contains("not below the rated power of 5 kW", Assert.Single(Estimated.Refused([.. Good, "--rated-power", "5 kW", "--idle-power", "5 kW"])), StringComparison.Ordinal);

    [Fact]
    public void An_odd_value_is_a_warning_and_the_estimate_goes_on()
    {
        var (code, output, error) = Estimated.Run([.. Good, "--rated-power", "550 kW"]);
        Assert.Equal(0, code);
        Assert.NotEmpty(output);
        Assert.Contains("warning: --rated-power: '550 kW' is unusual", Assert.Single(error), StringComparison.Ordinal);
    }
}
