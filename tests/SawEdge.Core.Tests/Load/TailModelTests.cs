using MathNet.Numerics.Distributions;
using SawEdge.Core.Load;

namespace SawEdge.Core.Tests.Load;

/// <summary>The rarity of a statistic: what is called one in a thousand must come once in a thousand.</summary>
public sealed class TailModelTests
{
    private const int Models = 4;
    private const int Fresh = 6000;

    public static TheoryData<string, bool> Samples => new()
    {
        { "half normal", false }, { "half normal", true },
        { "student 4", false }, { "student 4", true },
        { "max of 80", false }, { "max of 80", true },
    };

    /// <summary>
    /// p-values of fresh samples are uniform. One in a thousand lies where a thousand remembered cuts hardly reach, and what
    /// is believed of the tail (nearly exponential) has its say: too careful for a normal one, too bold for Student's t of 4.
    /// </summary>
    [Theory]
    [MemberData(nameof(Samples))]
    public void PValue_OfFreshSamples_IsUniform(string name, bool leaveOut)
    {
        var (tenth, hundredth, thousandth) = (0, 0, 0);
        for (var m = 0; m < Models; m++)
        {
            var random = new Random(1000 + m);
            var model = new TailModel(PriorOf(name));
            for (var i = 0; i < 1100; i++)
            {
                var value = Sample(name, random);
                if (!leaveOut || model.PValue(value) >= 1e-3)
                    model.Learn(value, leaveOut ? 1e-3 : 0);
            }

            Assert.Equal(TailModel.Remembered, model.History);
            for (var i = 0; i < Fresh; i++)
            {
                var p = model.PValue(Sample(name, random));
                tenth += p <= 0.1 ? 1 : 0;
                hundredth += p <= 0.01 ? 1 : 0;
                thousandth += p <= 0.001 ? 1 : 0;
            }
        }

        const double All = Models * Fresh;
        Assert.InRange(tenth / All, 0.1 * 0.85, 0.1 * 1.15);
        Assert.InRange(hundredth / All, 0.01 * 0.7, 0.01 * 1.4);
        Assert.InRange(thousandth / All, 0.001 * 0.15, 0.001 * (name == "student 4" ? 4 : 2));
    }

    [Fact]
    public void PValue_WithoutHistory_IsThePrior()
    {
        var prior = new TailPrior(3, 8);
        var model = new TailModel(prior);
        foreach (var statistic in (double[])[0, 0.5, 2, 5, 12])
            Assert.Equal(prior.Survival(statistic), model.PValue(statistic), 1e-15);
    }

    [Fact]
    public void PValue_FewCuts_PriorRulesAndThenHistory()
    {
        // History says that the statistic is ten times as large as the prior believes.
        var (few, many) = (new TailModel(new TailPrior(1, 8)), new TailModel(new TailPrior(1, 8)));
        var random = new Random(5);
        for (var i = 0; i < 1000; i++)
        {
            var value = 10 * Math.Abs(Normal.Sample(random, 0, 1));
            if (i < 5)
                few.Learn(value, 0);
            many.Learn(value, 0);
        }

        Assert.True(few.PValue(10) < 1e-3);
        Assert.InRange(many.PValue(10), 0.25, 0.4);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(30)]
    [InlineData(99)]
    [InlineData(150)]
    [InlineData(1500)]
    public void PValue_GreaterStatistic_IsNeverLikelier(int cuts)
    {
        var model = Learned("half normal", cuts);
        var before = 1.0;
        for (var statistic = 0.0; statistic < 60; statistic += 0.03)
        {
            var p = model.PValue(statistic);
            Assert.InRange(p, 1e-300, 1);
            Assert.True(p <= before * (1 + 1e-12), FormattableString.Invariant($"p({statistic}) = {p} after {before}"));
            before = p;
        }
    }

    [Fact]
    public void PValue_FarBeyondAllThatWasSeen_IsSmallAndAboveZero()
    {
        var model = Learned("half normal", 1500);
        Assert.True(model.PValue(20) < 1e-6);
        Assert.True(model.PValue(1e6) > 0);
    }

    [Fact]
    public void Restore_GoesOnBitForBit()
    {
        var model = Learned("student 4", 1300);
        var again = TailModel.Restore(Stored.Read(model.Save), PriorOf("student 4"));
        var random = new Random(8);
        for (var i = 0; i < 200; i++)
        {
            var value = Sample("student 4", random);
            Assert.Equal(model.PValue(value), again.PValue(value));
            model.Learn(value, 1e-3);
            again.Learn(value, 1e-3);
        }

        Assert.Equal(Stored.Bytes(model.Save), Stored.Bytes(again.Save));
    }

    [Fact]
    public void Restore_Damaged_IsRefused()
    {
        var bytes = Stored.Bytes(Learned("half normal", 50).Save);
        Assert.Throws<FormatException>(() => TailModel.Restore(new MemoryReader(bytes.AsMemory(0, bytes.Length - 3)), PriorOf("half normal")));
        bytes[0]++;
        Assert.Throws<FormatException>(() => TailModel.Restore(new MemoryReader(bytes), PriorOf("half normal")));
    }

    /// <summary>Of the greatest of n independent values 1 - (1 - p)^n; Student's t of 8 degrees of freedom exceeds 2.306 in absolute value with p = 0.05 (table of Student's t, for example NIST/SEMATECH e-Handbook 1.3.6.7.2).</summary>
    [Fact]
    public void Survival_PublishedQuantile_IsThatOfTheTable()
    {
        Assert.Equal(0.05, new TailPrior(1, 8).Survival(2.306), 5e-5);
        Assert.Equal(1 - Math.Pow(0.95, 3), new TailPrior(3, 8).Survival(-2.306), 1.5e-4);
        Assert.Equal(1, new TailPrior(80, 10).Survival(0), 1e-12);
    }

    private static TailModel Learned(string name, int cuts)
    {
        var model = new TailModel(PriorOf(name));
        var random = new Random(6);
        for (var i = 0; i < cuts; i++)
            model.Learn(Sample(name, random), 1e-3);
        return model;
    }

    private static TailPrior PriorOf(string name) => name == "max of 80" ? new TailPrior(80, 10) : new TailPrior(1, 6);

    private static double Sample(string name, Random random) => name switch
    {
        "half normal" => Math.Abs(Normal.Sample(random, 0, 1)),
        "student 4" => Math.Abs(StudentT.Sample(random, 0, 1, 4)),
        _ => Math.Abs(Normal.InvCDF(0, 1, 0.5 * (1 - Math.Pow(random.NextDouble(), 1 / 80.0)))),
    };
}
