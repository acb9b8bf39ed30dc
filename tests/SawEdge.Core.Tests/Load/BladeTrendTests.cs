using MathNet.Numerics.Distributions;
using SawEdge.Core.Load;

namespace SawEdge.Core.Tests.Load;

/// <summary>The trend on synthetic series whose level, slope and offsets are known.</summary>
public sealed class BladeTrendTests
{
    private const double CutM2 = 0.03;
    private const int CutsPerBar = 10;

    [Fact]
    public void Learn_LongLife_RecoversLevelSlopeAndFamilies()
    {
        var life = new Life { Slope = 0.05 };
        life.Run(900, i => i / 30 % 2 == 0 ? "A" : "B");
        var (a, _) = life.Expect("A", area: 0);
        var (b, _) = life.Expect("B", area: 0);
        var (later, _) = life.Expect("B", area: 1);

        Assert.Equal(life.Level, a.BarlessMean - life.OffsetOf("A"), 0.03);
        Assert.Equal(life.OffsetOf("B") - life.OffsetOf("A"), b.KindOffset - a.KindOffset, 0.02);
        Assert.Equal(0.05, later.BarlessMean - b.BarlessMean, 0.015);
    }

    [Fact]
    public void Learn_LongLife_RecoversScatterOfCutsAndBars()
    {
        var life = new Life { SigmaCut = 0.01, SigmaBar = 0.06 };
        life.Run(1500, _ => "A");
        Assert.True(life.Trend.IsSettled);
        Assert.InRange(life.Trend.SigmaCut, 0.007, 0.014);
        Assert.InRange(life.Trend.SigmaBar, 0.03, 0.1);
    }

    [Fact]
    public void Expect_InsideABar_HoldsTheBarsOwnOffset()
    {
        var life = new Life();
        life.Run(400, _ => "A");
        var bar = "hard bar";
        var before = life.Trend.Expect(new TrendCut("A", "", bar, 0)).BarlessMean;
        for (var i = 0; i < 8; i++)
        {
            var cut = new TrendCut("A", "", bar, 0);
            life.Trend.Learn(cut, before + 0.08, life.Trend.Expect(cut));
        }

        // The greater part of it is the bar's, a small one may be the blade's.
        var next = life.Trend.Expect(new TrendCut("A", "", bar, 0));
        Assert.Equal(before + 0.08, next.Mean, 0.01);
        Assert.InRange(next.Mean - next.BarlessMean, 0.05, 0.08);
        Assert.True(next.Spread < next.BarlessSpread);
        var other = life.Trend.Expect(new TrendCut("A", "", "another", 0));
        Assert.Equal(other.BarlessMean, other.Mean);
    }

    [Fact]
    public void Expect_JobChangesOnceBothAreKnown_IsNoInnovation()
    {
        var life = new Life();
        life.Run(300, i => i / 50 % 2 == 0 ? "A" : "B");
        var squares = new List<double>();
        for (var i = 0; i < 40; i++)
        {
            life.Run(1, _ => i % 2 == 0 ? "A" : "B");
            squares.Add(life.LastZ * life.LastZ);
        }

        // The offsets of the two lie 0.25 apart, ten times the scatter.
        Assert.InRange(Math.Sqrt(squares.Average()), 0.5, 1.5);
    }

    [Fact]
    public void Learn_Outlier_DragsLessThanATenthOfItself()
    {
        var life = new Life();
        life.Run(400, _ => "A");
        var with = BladeTrend.Restore(Stored.Read(life.Trend.Save), new TrendPriors(), Life.Families, Life.Sections);
        foreach (var outlier in (double[])[0.5, -0.5, 5])
        {
            var cut = new TrendCut("A", "", life.Bar, CutM2);
            var (fair, dragged) = (Copy(with), Copy(with));
            var expected = fair.Expect(cut);
            fair.Learn(cut, expected.Mean, expected);
            dragged.Learn(cut, expected.Mean + outlier, dragged.Expect(cut));
            var by = dragged.Expect(cut).Mean - fair.Expect(cut).Mean;
            Assert.InRange(by / outlier, 0, 0.1);
        }
    }

    [Fact]
    public void ChangeBlade_KeepsWhatIsKnownOfKinds()
    {
        var life = new Life();
        life.Run(400, i => i / 20 % 2 == 0 ? "A" : "B");
        var before = life.Expect("B", 0).Expected.KindOffset - life.Expect("A", 0).Expected.KindOffset;
        life.Trend.ChangeBlade(-0.2, 0.05);
        Assert.Equal(-0.2, life.Trend.LevelNow);
        Assert.True(life.Trend.LevelSd >= 0.05);
        var after = life.Expect("B", 0).Expected.KindOffset - life.Expect("A", 0).Expected.KindOffset;
        Assert.Equal(before, after, 1e-9);
    }

    /// <summary>A job that both blades cut has not changed: what a fresh blade shows more or less than expected is the blade's.</summary>
    [Fact]
    public void ChangeBlade_OneKindOnly_TheStepIsTheBlades()
    {
        var life = new Life { Slope = 0 };
        life.Run(200, _ => "A");
        var (before, kind) = (life.Trend.LevelNow, life.Expect("A", 0).Expected.KindOffset);
        life.Level -= 0.35;
        life.Trend.ChangeBlade(before - 0.12, 0.15);
        life.Run(100, _ => "A");
        Assert.Equal(kind, life.Expect("A", 0).Expected.KindOffset, 0.05);
        Assert.Equal(before - 0.35, life.Trend.LevelNow, 0.1);
    }

    [Fact]
    public void ChangeBlade_NewLevel_IsFoundWithinAFewBars()
    {
        var life = new Life();
        life.Run(400, _ => "A");
        life.Level -= 0.25;
        life.Trend.ChangeBlade(life.Trend.LevelNow - 0.12, 0.15);
        life.Run(40, _ => "A");
        Assert.Equal(life.Level + life.OffsetOf("A"), life.Expect("A", 0).Expected.BarlessMean, 0.05);
    }

    [Fact]
    public void Loosen_NewLevel_IsTakenAtOnce()
    {
        var life = new Life();
        life.Run(400, _ => "A");
        life.Trend.Loosen();
        life.Level += 0.6;
        life.Run(20, _ => "A");
        Assert.Equal(life.Level + life.OffsetOf("A"), life.Expect("A", 0).Expected.BarlessMean, 0.08);
    }

    [Fact]
    public void Expect_GuessedBars_OffsetFades()
    {
        var life = new Life();
        life.Run(200, _ => "A");
        double Offset(string bar, int idle)
        {
            var trend = Copy(life.Trend);
            var cut = new TrendCut("A", "", bar, 0);
            for (var i = 0; i < 6; i++)
            {
                var expected = trend.Expect(cut);
                trend.Learn(cut, expected.BarlessMean + 0.08, expected);
            }

            for (var i = 0; i < idle; i++)
                _ = trend.Expect(cut);
            var last = trend.Expect(cut);
            return last.Mean - last.BarlessMean;
        }

        Assert.True(Offset("~4", 20) < 0.3 * Offset("~4", 0));
        Assert.Equal(Offset("B-4", 0), Offset("B-4", 20), 1e-9);
    }

    [Fact]
    public void Restore_GoesOnBitForBit()
    {
        var life = new Life();
        life.Run(137, i => (i / 7 % 3) switch { 0 => "A", 1 => "B", _ => "" });
        var again = Copy(life.Trend);
        var random = new Random(3);
        for (var i = 0; i < 100; i++)
        {
            var cut = new TrendCut(i % 5 == 0 ? "C" : "A", i % 3 == 0 ? "s" : "", $"bar {i / 6}", random.NextDouble() * CutM2, i % 5 == 0, 1e-4);
            var value = Normal.Sample(random, 0.2, 0.1);
            var (one, two) = (life.Trend.Expect(cut), again.Expect(cut));
            Assert.Equal(one, two);
            life.Trend.Learn(cut, value, one);
            again.Learn(cut, value, two);
        }

        Assert.Equal(Stored.Bytes(life.Trend.Save), Stored.Bytes(again.Save));
    }

    private static BladeTrend Copy(BladeTrend trend) => BladeTrend.Restore(Stored.Read(trend.Save), new TrendPriors(), Life.Families, Life.Sections);

    /// <summary>A made-up blade's life.</summary>
    private sealed class Life
    {
        public const int Families = 6;
        public const int Sections = 6;

        private readonly Random _random = new(41);
        private double _bar;
        private int _cuts;

        public BladeTrend Trend { get; } = new(new TrendPriors(), Families, Sections);

        public double Level { get; set; } = 0.1;

        public double Slope { get; init; } = 0.02;

        public double SigmaCut { get; init; } = 0.02;

        public double SigmaBar { get; init; } = 0.03;

        public double LastZ { get; private set; }

        public string Bar => $"bar {(_cuts - 1) / CutsPerBar}";

        public double OffsetOf(string family) => family switch { "A" => 0.1, "B" => -0.15, _ => 0 };

        public (TrendExpectation Expected, string Bar) Expect(string family, double area) => (Trend.Expect(new TrendCut(family, "", "x", area)), "x");

        public void Run(int cuts, Func<int, string> family)
        {
            for (var i = 0; i < cuts; i++)
            {
                if (_cuts++ % CutsPerBar == 0)
                    _bar = Normal.Sample(_random, 0, SigmaBar);
                Level += Slope * CutM2;
                var cut = new TrendCut(family(i), "", Bar, CutM2);
                var expected = Trend.Expect(cut);
                var value = Level + OffsetOf(cut.Family) + _bar + Normal.Sample(_random, 0, SigmaCut);
                LastZ = (value - expected.Mean) / expected.Spread;
                Trend.Learn(cut, value, expected);
            }
        }
    }
}
