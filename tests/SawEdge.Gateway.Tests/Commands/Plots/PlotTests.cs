using SawEdge.Core.Load;
using SawEdge.Gateway.Commands.Plots;

namespace SawEdge.Gateway.Tests.Commands.Plots;

public sealed class PlotTests
{
    private static readonly ResidualProfile Cut = new(
        true,
        [1, 2, 3, 4.5f, float.NaN, 2],
        [1, 2, 3, 3, 3, 2],
        [0.5f, 1.5f, 2.5f, 2.5f, float.NaN, 1.5f],
        [1.5f, 2.5f, 3.5f, 3.5f, float.NaN, 2.5f],
        [0, 0.5f, -0.5f, 4.25f, float.NaN, 0]);

    [Fact]
    public void DepthPlot_Ascii_IsExactlyThis() =>
        Assert.Equal(
            """
                  mm . 95 of 100 normal cuts  : expected  # this cut
                   0 |       .......#........
                     |                      .......#.......
                     |                                    .......#.......
                     |                                    .......:.......              #        < +4.3 sd
                  40 |                                           :
                     |                      .......#.......
                     ++-------------+--------------+-------------+--------------+-------------+
                      0             1              2             3              4             5 kW
            """,
            string.Join('\n', DepthPlot.Lines(Cut, 60, "mm", 1, "kW", ascii: true)));

    [Fact]
    public void DepthPlot_WithoutADepth_IsInShares_AndBoxCharactersAreOneWide()
    {
        var lines = DepthPlot.Lines(Cut with { ByDepth = false }, double.NaN, "s", 1.341, "hp", ascii: false);
        Assert.Equal("       % ░ 95 of 100 normal cuts  │ expected  █ this cut", lines[0]);
        Assert.All(lines, line => Assert.InRange(line.Length, 1, 96));
        Assert.Contains("< +4.3 sd", lines[4], StringComparison.Ordinal);
        Assert.EndsWith("hp", lines[^1], StringComparison.Ordinal);
    }

    [Fact]
    public void DepthPlot_FortyEightBins_TakeHalfAsManyRows_AndNothingKnownTakesNone()
    {
        float[] level = [.. Enumerable.Repeat(2f, 48)];
        Assert.Equal(27, DepthPlot.Lines(new ResidualProfile(true, level, level, level, level, new float[48]), 80, "mm", 1, "kW", ascii: true).Count);
        float[] nothing = [.. Enumerable.Repeat(float.NaN, 48)];
        Assert.Empty(DepthPlot.Lines(new ResidualProfile(true, nothing, nothing, nothing, nothing, nothing), 80, "mm", 1, "kW", ascii: true));
    }

    [Fact]
    public void WearPlot_Ascii_IsExactlyThis() =>
        Assert.Equal(
            """
                rise o measured  - dull  . forecast
                30 % |
                     |
                     |
                     |-------------------------------------------------------....--------------
                     |                                                  .....
                20 % |                                              ....
                     |                                         .....
                     |                                     ....
                     |                                .....
                     |                            ....
                10 % |                         o .
                     |
                     |                  o
                     |
                     |           o
                 0 % |    o
                     ++-----------------+-----------------+-----------------+-----------------+
                      0                 1                 2                 3                 4 m2
            """,
            string.Join('\n', WearPlot.Lines([(0.2, 0), (0.6, 0.02), (1, 0.06), (1.4, 0.1)], 0.25, (1.5, 0.11), 3.25, "m2", ascii: true)));

    [Fact]
    public void WearPlot_WithoutAForecast_StandsOnItsPoints_AndWithoutPointsThereIsNone()
    {
        var lines = WearPlot.Lines([(0.2, -0.08), (0.6, 0.3)], 0.25, (0.6, 0.3), null, "m2", ascii: false);
        Assert.Equal(2, lines.Skip(1).Count(line => line.Contains('●', StringComparison.Ordinal)));
        Assert.Contains(lines, line => line.StartsWith("   -10 % ┤", StringComparison.Ordinal));
        Assert.DoesNotContain(lines.Skip(1), line => line.Contains('·', StringComparison.Ordinal));
        Assert.All(lines, line => Assert.InRange(line.Length, 1, 96));
        Assert.Empty(WearPlot.Lines([], 0.25, (0, 0), null, "m2", ascii: true));
        Assert.NotEmpty(WearPlot.Lines([(0, 0)], 0.25, (0, 0), null, "m2", ascii: true));
    }

    [Theory]
    [InlineData(4.5, 6, 1)]
    [InlineData(0.9, 6, 0.2)]
    [InlineData(31, 4, 10)]
    [InlineData(12, 6, 2)]
    public void Step_IsRound(double most, int marks, double expected) => Assert.Equal(expected, Axis.Step(most, marks), 9);
}
