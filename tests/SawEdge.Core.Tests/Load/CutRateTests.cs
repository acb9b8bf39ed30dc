using SawEdge.Core.Load;
using SawEdge.Core.Tests.Cycles;

namespace SawEdge.Core.Tests.Load;

/// <summary>The threshold is what the accepted rate of false alarms makes of the saw's own number of cuts.</summary>
public sealed class CutRateTests
{
    [Theory]
    [InlineData(10_000, 1, 4)]
    [InlineData(1000, 1, 3)]
    [InlineData(10_000, 10, 3)]
    [InlineData(10_000, 0.1, 5)]
    public void Threshold_SteadyUse_IsLogOfCutsPerFalseAlarm(int cutsAMonth, double falseAlarms, double expected)
    {
        var rate = Used(cutsAMonth, days: 120);
        Assert.Equal(cutsAMonth, rate.CutsPerMonth, 0.02 * cutsAMonth);
        Assert.Equal(expected, rate.Threshold(falseAlarms), 0.01);
    }

    [Fact]
    public void CutsPerMonth_AfterFiveDays_IsNearlyThere() => Assert.Equal(10_000, Used(10_000, days: 5).CutsPerMonth, 300.0);

    [Fact]
    public void CutsPerMonth_FirstDay_IsThatOfSteadyUse()
    {
        var rate = new CutRate();
        var usual = rate.CutsPerMonth;
        Assert.InRange(usual, 1000, 30_000);
        for (var i = 0; i < 50; i++)
            rate.Count(SawScript.Epoch.AddSeconds(i));
        Assert.Equal(usual, rate.CutsPerMonth);
    }

    [Fact]
    public void CutsPerMonth_BusierFromNowOn_Follows()
    {
        var rate = Used(1000, days: 60);
        Use(rate, 10_000, SawScript.Epoch.AddDays(60), days: 90);
        Assert.Equal(10_000, rate.CutsPerMonth, 700.0);
    }

    [Fact]
    public void Threshold_Extremes_StaysBetweenTwoAndEight()
    {
        Assert.Equal(2, Used(1000, days: 40).Threshold(1000));
        Assert.Equal(8, Used(1000, days: 40).Threshold(1e-9));
    }

    [Fact]
    public void Count_ClockThatGoesBack_CountsOn()
    {
        var rate = Used(1000, days: 40);
        var before = rate.CutsPerMonth;
        rate.Count(SawScript.Epoch);
        Assert.InRange(rate.CutsPerMonth, before, before + 3);
    }

    [Fact]
    public void Restore_GoesOnBitForBit()
    {
        var (rate, again) = (Used(1000, days: 40), new CutRate());
        again.Restore(Stored.Read(rate.Save));
        Use(rate, 500, SawScript.Epoch.AddDays(41), 3);
        Use(again, 500, SawScript.Epoch.AddDays(41), 3);
        Assert.Equal(rate.CutsPerMonth, again.CutsPerMonth);
    }

    private static CutRate Used(int cutsAMonth, int days)
    {
        var rate = new CutRate();
        Use(rate, cutsAMonth, SawScript.Epoch, days);
        return rate;
    }

    private static void Use(CutRate rate, int cutsAMonth, DateTimeOffset from, int days)
    {
        for (var i = 0; i < cutsAMonth * days / 30; i++)
            rate.Count(from.AddDays(30.0 * i / cutsAMonth));
    }
}
