using MathNet.Numerics.Distributions;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Core.Tests.Load;

/// <summary>The looks of a cut along its depth, on cuts whose pattern is known.</summary>
public sealed class ShapeModelTests
{
    private const int Bins = DepthProfile.DefaultBins;
    private const string Kind = "S355|rect";

    private readonly ShapeModel _model = new();
    private readonly Random _random = new(23);

    [Fact]
    public void Look_FirstCutsOfAKind_SaysNothingYet()
    {
        var seen = new List<bool>();
        for (var i = 0; i < 6; i++)
            seen.Add(Cut(_ => 0) is not null);
        Assert.False(seen[0]);
        Assert.True(seen[5]);
    }

    [Fact]
    public void Learn_ConstantPattern_IsNoFindAnyMore()
    {
        static double Pattern(int bin) => bin is >= 20 and < 26 ? 0.15 : bin is >= 30 and < 34 ? -0.1 : 0;
        for (var i = 0; i < 80; i++)
            Cut(Pattern);
        Assert.True(_model.IsKnown(Kind));
        Assert.Equal(0.15, _model.MeanOf(Kind)[22], 0.03);
        Assert.Equal(-0.1, _model.MeanOf(Kind)[31], 0.03);
        Assert.Equal(0, _model.MeanOf(Kind)[10], 0.03);
        for (var i = 0; i < 20; i++)
            Assert.InRange(Math.Abs(Cut(Pattern)!.Value.Statistic), 0, 5);

        // The same cut without the pattern is one that lacks it.
        var found = Cut(_ => 0, learn: false)!.Value;
        Assert.True(found.Statistic < -5);
        Assert.InRange(found.From, 20, 25);
    }

    [Theory]
    [InlineData(12, 2, 0.25)]
    [InlineData(24, 3, 0.25)]
    [InlineData(33, 4, 0.25)]
    [InlineData(12, 2, -0.25)]
    [InlineData(33, 4, -0.25)]
    public void Look_Bump_IsFoundAtItsPlaceWithItsSign(int from, int length, double height)
    {
        for (var i = 0; i < 60; i++)
            Cut(_ => 0);
        var found = Cut(bin => bin >= from && bin < from + length ? height : 0, learn: false)!.Value;
        Assert.True(Math.Abs(found.Statistic) > 7);
        Assert.Equal(Math.Sign(height), Math.Sign(found.Statistic));
        Assert.InRange(found.From, from - 1, from + 1);
        Assert.InRange(found.To, from + length - 2, from + length);
        Assert.Equal(height, found.Excess, 0.1);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.6)]
    public void Look_NeighboursThatScatterTogether_AreNoFind(double correlation)
    {
        for (var i = 0; i < 200; i++)
            Cut(_ => 0, correlation);
        var far = 0;
        for (var i = 0; i < 300; i++)
            far += Math.Abs(Cut(_ => 0, correlation)!.Value.Statistic) > 4.5 ? 1 : 0;
        Assert.InRange(far, 0, 9);
    }

    [Fact]
    public void Learn_KindsApart_EachHasItsOwnMean()
    {
        for (var i = 0; i < 40; i++)
        {
            Cut(_ => 0);
            Cut(bin => bin is >= 20 and < 24 ? 0.2 : 0, kind: "tube");
        }

        Assert.Equal(0, _model.MeanOf(Kind)[21], 0.03);
        Assert.Equal(0.2, _model.MeanOf("tube")[21], 0.04);
    }

    [Fact]
    public void Look_MostBinsUnknown_SaysNothing()
    {
        for (var i = 0; i < 10; i++)
            Cut(_ => 0);
        Assert.Null(Cut(bin => bin % 4 == 0 ? 0 : double.NaN));
    }

    [Fact]
    public void Restore_GoesOnBitForBit()
    {
        for (var i = 0; i < 30; i++)
            Cut(_ => 0, kind: $"kind {i % 4}");
        var again = ShapeModel.Restore(Stored.Read(_model.Save));
        var (one, two) = (new double[Bins], new double[Bins]);
        for (var i = 0; i < 20; i++)
        {
            var residuals = Residuals(_ => 0, 0.3);
            var kind = $"kind {i % 6}";
            Assert.Equal(_model.Look(kind, residuals, 1, one), again.Look(kind, residuals, 1, two));
            Assert.Equal(one, two);
            _model.Learn(kind, residuals, 1, one);
            again.Learn(kind, residuals, 1, two);
        }

        Assert.Equal(Stored.Bytes(_model.Save), Stored.Bytes(again.Save));
    }

    private ShapeFinding? Cut(Func<int, double> pattern, double correlation = 0.3, string kind = Kind, bool learn = true)
    {
        var residuals = Residuals(pattern, correlation);
        Span<double> standardised = stackalloc double[Bins];
        var found = _model.Look(kind, residuals, 1, standardised);
        if (learn)
            _model.Learn(kind, residuals, 1, standardised);
        return found;
    }

    // A load of e kW net: rho is 1 but for the pattern and the scatter.
    private CutResiduals Residuals(Func<int, double> pattern, double correlation)
    {
        var loads = new float[Bins];
        var noise = 0.0;
        for (var j = 0; j < Bins; j++)
        {
            var fresh = Normal.Sample(_random, 0, 0.03);
            noise = j == 0 ? fresh : (correlation * noise) + (Math.Sqrt(1 - (correlation * correlation)) * fresh);
            loads[j] = (float)(1.5 + Math.Exp(1 + pattern(j) + noise));
        }

        var cut = new MadeCuts().Next();
        return CutResiduals.Of(cut with { Profile = cut.Profile! with { MeanLoadKw = loads } }, 1.5, null, 0.8);
    }
}
