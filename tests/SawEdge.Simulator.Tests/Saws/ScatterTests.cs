using SawEdge.Core.Signals;
using SawEdge.Simulator.Saws;
using static SawEdge.Simulator.Tests.Saws.VirtualSawTests;

namespace SawEdge.Simulator.Tests.Saws;

/// <summary>What differs from blade to blade, from cycle to cycle and from the cold saw to the warm one.</summary>
public sealed class ScatterTests
{
    [Fact]
    public void ChangeBlade_TakesANewBladeBeforeTheNextCycle()
    {
        var saw = Make.AtCycle(3);
        saw.ChangeBlade();
        Assert.Equal("BL001", saw.Truth.Blade);
        saw.NextTurn();
        Assert.Equal("BL002", saw.Truth.Blade);
        Assert.Equal(saw.Truth.CutAreaCm2 / 10_000, saw.Truth.BladeAreaM2, 1e-9);
        saw.NextTurn();
        Assert.Equal("BL002", saw.Truth.Blade);
    }

    [Fact]
    public void EnergySigma_GivesEachBladeAFactorOfItsOwn()
    {
        var options = Make.Quiet(material: Make.FlatForce);
        var saw = new VirtualSaw(options with { Blade = options.Blade with { EnergySigma = 0.1 } });
        var plain = new VirtualSaw(options).Truth.EnergyKj;
        var logs = new List<double>();
        for (var i = 0; i < 400; i++, saw.NextTurn())
        {
            logs.Add(Math.Log(saw.Truth.BladeFactor));
            Assert.Equal(plain * saw.Truth.BladeFactor, saw.Truth.EnergyKj, 1e-6);
            saw.ChangeBlade();
        }

        // Standard errors: of the mean 0.1 / 20, of the deviation 0.1 / sqrt(800).
        Assert.Equal(0, logs.Average(), 0.02);
        Assert.Equal(0.1, Math.Sqrt(logs.Average(log => log * log)), 0.015);
    }

    [Fact]
    public void IdleSigma_ScattersIdlePowerFromCycleToCycle()
    {
        var options = Make.Quiet();
        var truths = Cycles(new VirtualSaw(options with { Noise = NoiseModel.None with { IdleSigma = 0.05 } }), 400);
        var logs = truths.Select(truth => Math.Log(truth.IdleKw / options.Machine.IdleKw(70))).ToArray();
        Assert.Equal(0, logs.Average(), 0.01);
        Assert.Equal(0.05, Math.Sqrt(logs.Average(log => log * log)), 0.0075);
    }

    [Fact]
    public void ColdIdleShare_FadesAsTheSawRuns_AndComesBackAfterANight()
    {
        var options = Make.Quiet() with
        {
            Noise = NoiseModel.None with { ColdIdleShare = 0.2, WarmUpS = 1200 },
            Work = new WorkPattern { StopChance = 0, ShiftStart = new TimeOnly(6, 0) },
        };
        var warm = options.Machine.IdleKw(70);
        var truths = Cycles(new VirtualSaw(options), 400);
        Assert.Equal(1.2, truths[0].IdleKw / warm, 1e-9);
        var evening = truths.FindIndex(truth => truth.Started.Day != truths[0].Started.Day) - 1;
        Assert.InRange(truths[evening].IdleKw / warm, 1, 1.03);
        // 16 hours of cooling with a constant of 2 hours.
        Assert.Equal(1.2, truths[evening + 1].IdleKw / warm, 0.001);
    }

    [Fact]
    public void ExactAt_IsTheReadingWithoutNoise_AndLeavesTheReadingsAlone()
    {
        var quiet = Make.Quiet() with { Noise = NoiseModel.None with { TransducerLagS = 0.2 } };
        var noisy = Make.AtCycle(quiet with { Noise = quiet.Noise with { LoadKw = 0.1, HeadMm = 0.2, LoadStepKw = 0.05 } }, 2);
        var still = Make.AtCycle(quiet, 2);
        var time = still.Truth.Contact!.Value.AddSeconds(12.34);
        var before = Number(noisy, time, Signal.MotorLoad);
        var (head, load) = noisy.ExactAt(time);
        Assert.Equal(Number(still, time, Signal.HeadPosition), head, 1e-9);
        Assert.Equal(Number(still, time, Signal.MotorLoad), load, 1e-9);
        Assert.Equal(before, Number(noisy, time, Signal.MotorLoad));
        Assert.NotEqual(load, before);
        Assert.Throws<ArgumentOutOfRangeException>(() => noisy.ExactAt(noisy.TurnEnd));
    }
}
