using System.Globalization;
using System.Reflection;
using CsCheck;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Core.Tests.Load;

/// <summary>Whatever numbers a cut holds, it gives a record without a number that is none.</summary>
public sealed class CutRecorderNonsenseTests
{
    private static readonly double[] Odd = [0, -0.0, 1, -1, 1e-300, -1e-300, 1e300, -1e300, 1e12, 1000, 1e-9, double.Epsilon, double.MaxValue, double.MinValue, double.NaN];

    // Samples are kept in single precision: no more than that comes out of them.
    private static Gen<double> Number => Gen.Frequency((3, Gen.Double[-10, 200]), (2, OneOf(Odd)), (1, Gen.Double.Where(double.IsFinite)))
        .Select(value => double.IsNaN(value) ? value : Math.Clamp((double)(float)value, float.MinValue, float.MaxValue));

    private static Gen<float[]> Bins => Gen.Select(Number, Number, Gen.Int[0, DepthProfile.DefaultBins]).SelectMany((usual, odd, at) =>
        Gen.Double[0.9, 1.1].Array[DepthProfile.DefaultBins].Select(shares => Finite([.. shares.Select((share, i) => (float)(i == at ? odd : usual * share))])));

    private static Gen<Cut> Cuts { get; } = Gen.Select(
        Gen.Select(Number, Number, Number, Number, Number, Number),
        Gen.Select(Number, Number, Number, Number),
        Gen.Select(Bins, Bins, Bins),
        Gen.Select(Gen.Int[0, 6], OneOf("J-1", "J-2", "nobody's", ""), OneOf("", "b1", "b2"), Gen.Int[0, 63], Gen.Int[0, 3], Gen.Int[-2, 3000])).Select(Made);

    [Fact]
    public void Take_AnyNumbers_NeverThrowsAndRecordsNoNaN() => Cuts.Array[1, 12].Sample(
        cuts =>
        {
            var recorder = MadeCuts.Recorder();
            foreach (var cut in new MadeCuts().Several(6))
                recorder.Take(MadeCuts.Evidence(cut));
            foreach (var cut in cuts)
            {
                foreach (var finished in recorder.Take(MadeCuts.Evidence(cut)))
                    Check(finished);
            }

            var again = MadeCuts.Recorder();
            again.Restore(recorder.Save());

            // What was learned of it is still good for something.
            var sound = recorder.Take(MadeCuts.Evidence(new MadeCuts { Now = MadeCuts.Late }.Next()))[^1];
            Check(sound);
            Assert.NotNull(sound.Assessment.Score);
        },
        iter: 200,
        threads: 1,
        print: cuts => string.Join("\n", cuts.Select(cut => cut.ToString())));

    private static void Check(FinishedCut finished)
    {
        foreach (var property in typeof(CycleRecord).GetProperties(BindingFlags.Public | BindingFlags.Instance))
        {
            if (property.GetValue(finished.Record) is double value)
                Assert.True(double.IsFinite(value), string.Create(CultureInfo.InvariantCulture, $"{property.Name} is {value}"));
        }

        Assert.DoesNotContain("NaN", finished.Record.Notes, StringComparison.Ordinal);
        foreach (var view in finished.Assessment.Views)
        {
            Assert.True(view.PValue is > 0 and <= 1, string.Create(CultureInfo.InvariantCulture, $"p of {view.What} is {view.PValue}, statistic {view.Statistic}"));
            Assert.False(double.IsNaN(view.Score) || double.IsNaN(view.Statistic) || double.IsNaN(view.Value), $"{view}");
        }

        if (finished.Assessment.Score is { } score)
            Assert.InRange(score, 0, LoadAssessment.Cap);
        Assert.InRange(finished.Assessment.Threshold, 2, 8);
        foreach (var cause in finished.Assessment.Causes)
            Assert.DoesNotContain("NaN", cause.Evidence, StringComparison.Ordinal);
    }

    private static Gen<T> OneOf<T>(params T[] values) => Gen.Int[0, values.Length - 1].Select(i => values[i]);

    private static float[] Finite(float[] values) => [.. values.Select(value => float.IsInfinity(value) ? float.MaxValue : value)];

    private static Cut Made(
        (double Depth, double Mean, double Peak, double Idle, double Energy, double Speed) a,
        (double Hold, double Coverage, double Ratio, double Swing) b,
        (float[] Seconds, float[] Loads, float[] Speeds) bins,
        (int Outcome, string Job, string Bar, int Doubts, int Form, int Seconds) c)
    {
        var started = Cycles.SawScript.Epoch.AddDays(1).AddSeconds(c.Seconds * 7);
        return new Cut
        {
            StartedAt = started,
            CutStartedAt = c.Form == 3 ? null : started.AddSeconds(1),
            CutEndedAt = c.Form == 2 ? null : started.AddSeconds(1 + c.Seconds),
            EndedAt = started.AddSeconds(Math.Max(2, 3 + c.Seconds)),
            Outcome = (CutOutcome)c.Outcome,
            Job = c.Job,
            BarId = c.Bar,
            DepthMm = a.Depth,
            MeanLoadKw = a.Mean,
            PeakLoadKw = a.Peak,
            IdleLoadKw = a.Idle,
            EnergyKj = a.Energy,
            MeanBladeSpeedMMin = a.Speed,
            HoldSeconds = b.Hold,
            Coverage = b.Coverage,
            Frames = 10,
            Doubts = c.Doubts < 40 ? SignalDoubts.None : (SignalDoubts)c.Doubts,
            Loop = c.Form == 1 ? null : new BladeLoopMeasure(10, 5, 15, b.Ratio, double.IsNaN(b.Swing) ? 0.1 : b.Swing),
            Profile = c.Form == 0 ? null : new DepthProfile(c.Form == 1 ? ProfileBasis.TimeShare : ProfileBasis.Depth, a.Depth, bins.Seconds, bins.Loads, bins.Speeds),
        };
    }
}
