using System.Globalization;
using MathNet.Numerics.Distributions;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Statistics;

namespace SawEdge.Core.Load;

/// <summary>The looks at one cut, a view each.</summary>
internal sealed partial class LoadScorer
{
    // Cuts without a known section are held against others of the same job; without that, of about the same depth and time.
    private static string KindWithoutSection(Cut cut, double seconds)
    {
        if (cut.Job.Length > 0)
            return $"job {cut.Job}";
        var depth = double.IsNaN(cut.DepthMm) ? "-" : Math.Round(cut.DepthMm / 10).ToString(CultureInfo.InvariantCulture);
        var time = seconds > 0 ? Math.Round(Math.Log(seconds) * 5).ToString(CultureInfo.InvariantCulture) : "-";
        return $"like {depth} {time}";
    }

    private void LookAtLoad(in ScoredCut scored, CutCurve? curve, CutResiduals residuals, CutState state, CauseContext context, List<ViewScore> views)
    {
        var cut = scored.Evidence.Cut;
        var basis = residuals.Basis.ToString();
        state.Kind = $"{state.IdleKind}|{basis}";
        state.Level = residuals.Basis == ResidualBasis.Section && !double.IsNaN(residuals.Whole) ? residuals.Whole : LevelOfBins(residuals, state);
        if (double.IsNaN(state.Level))
            return;
        state.LevelCut = new TrendCut(
            curve is null ? state.Kind : FamilyOf(curve),
            curve is null ? "" : state.Kind,
            state.Bar,
            _levelAreaM2,
            UnknownScale: curve is null,

            // What the idle load is off by is missing from, or added to, the net load.
            ExtraVariance: state.LevelNoise + Math.Pow(_idles.SigmaKw / (cut.MeanLoadKw - state.IdleKw), 2));
        _levelAreaM2 = 0;
        var expected = _levelTrend.Expect(state.LevelCut);
        state.LevelExpected = expected;
        var inBar = (state.Level - expected.Mean) / expected.Spread;
        var whole = (state.Level - expected.BarlessMean) / expected.BarlessSpread;
        var deviation = state.Level - expected.BarlessMean;
        var levelVariance = (expected.BarlessSpread * expected.BarlessSpread) - (_levelTrend.SigmaBar * _levelTrend.SigmaBar) - (_levelTrend.SigmaCut * _levelTrend.SigmaCut) - state.LevelCut.ExtraVariance;
        var together = _runs.With(state.Bar, deviation, _levelTrend.SigmaBar, Math.Sqrt((_levelTrend.SigmaCut * _levelTrend.SigmaCut) + state.LevelCut.ExtraVariance), Math.Sqrt(Math.Max(0, levelVariance)));
        var byBar = Math.Abs(inBar) > Math.Abs(whole);
        var statistic = byBar ? inBar : whole;
        LastWear = curve is null ? double.NaN : state.Level - expected.KindOffset;
        LastLevel = (state.Level - expected.BarlessMean, expected.BarlessSpread);
        var view = _level.View(LoadView.Level, Energy, state.Level, byBar ? expected.Mean : expected.BarlessMean, byBar ? expected.Spread : expected.BarlessSpread, statistic, state.IsGuess);
        var lately = _lately.View(LoadView.Level, Lately, state.Level, expected.BarlessMean, expected.BarlessSpread, together, state.IsGuess);
        views.Add(view);
        views.Add(lately);
        if (lately.PValue < view.PValue)
            view = lately;
        _onset.Note(state.Bar, deviation, expected.BarlessSpread, view.PValue < LeftOutBelow);
        context.Level = view;
        context.MeanEnergy = (residuals.SpecificEnergyJMm3, residuals.ModelEnergyJMm3 * Math.Exp(view.Expected));
        state.Representative[(int)LoadView.Level] = IsScatter(expected, _levelTrend, state.LevelCut.ExtraVariance) || state.IsGuess;

        // Where the job is a guess, so is what its cuts look like.
        if (!state.IsGuess)
            LookAtShape(cut, residuals, state, context, views);
    }

    // A cut of which little is known shows a small statistic whatever it does: it says nothing of how great they get.
    private static bool IsScatter(TrendExpectation expected, BladeTrend trend, double extraVariance)
    {
        var scatter = (trend.SigmaCut * trend.SigmaCut) + (trend.SigmaBar * trend.SigmaBar);
        return (expected.BarlessSpread * expected.BarlessSpread) - extraVariance < 1.5 * scatter && trend.IsSettled;
    }

    private double LevelOfBins(CutResiduals residuals, CutState state)
    {
        var mean = _shapes.MeanOf(state.Kind);
        Span<double> values = stackalloc double[residuals.Rho.Length];
        Span<double> known = stackalloc double[residuals.Rho.Length];
        var count = 0;
        for (var j = 0; j < values.Length; j++)
        {
            values[j] = residuals.Rho[j] - mean[j];
            if (!double.IsNaN(values[j]))
                known[count++] = values[j];
        }

        if (count < values.Length / 3)
            return double.NaN;
        var scale = Math.Max(0.01, RobustStatistics.Mad(known[..count]));

        // Neighbouring bins scatter together, so that there are fewer independent ones: about every fourth.
        state.LevelNoise = 4 * scale * scale / count;
        return RobustStatistics.HuberMean(values, residuals.Weight, scale);
    }

    private void LookAtShape(Cut cut, CutResiduals residuals, CutState state, CauseContext context, List<ViewScore> views)
    {
        // With a section known as a whole only, the bins have a level of their own.
        state.ShapeLevel = residuals.Basis == ResidualBasis.Section ? LevelOfBins(residuals, state) : state.Level;
        if (double.IsNaN(state.ShapeLevel) || _shapes.Look(state.Kind, residuals, state.ShapeLevel, state.Standardised) is not { } found)
            return;
        var bins = residuals.Rho.Length;
        var (from, to) = (100.0 * found.From / bins, 100.0 * (found.To + 1) / bins);
        var what = residuals.ByDepth
            ? string.Create(CultureInfo.InvariantCulture, $"depth {from / 100 * cut.Profile!.DepthMm:0} to {to / 100 * cut.Profile.DepthMm:0} mm")
            : string.Create(CultureInfo.InvariantCulture, $"{from:0} to {to:0} % of the cut time");
        var view = _shape.View(LoadView.Shape, what, found.Excess, 0, found.Spread, found.Statistic);
        views.Add(view);
        state.Representative[(int)LoadView.Shape] = _shapes.IsKnown(state.Kind);
        context.Shape = view;
        context.ShapeMiddle = (found.From + found.To + 1) / 2.0 / bins;
    }

    private void LookAtIdle(Cut cut, double expected, double spread, CutState state, CauseContext context, List<ViewScore> views)
    {
        if (double.IsNaN(expected) || double.IsNaN(cut.IdleLoadKw) || !(expected > 0))
            return;
        var view = _idle.View(LoadView.Level, Idle, cut.IdleLoadKw, expected, spread, (cut.IdleLoadKw - expected) / spread, state.IsGuess);
        views.Add(view);
        context.Idle = view;
    }

    private void LookAtPace(in ScoredCut scored, CutState state, CauseContext context, List<ViewScore> views)
    {
        var cut = scored.Evidence.Cut;
        if (scored.Learned is not { } learned || !IsFull(cut) || !(scored.RunningSeconds > 0) || context.SectionMisfit)
            return;

        // Whether an operator breaks a blade in as the standard says, nobody knows.
        state.PaceCut = new TrendCut("", state.IdleKind, state.Bar, _paceAreaM2, ExtraVariance: learned.LogVariance + Math.Pow(Math.Log(scored.BreakIn), 2));
        _paceAreaM2 = 0;
        state.Pace = Math.Log(scored.RunningSeconds / learned.ExpectedS);
        var expected = _paceTrend.Expect(state.PaceCut);
        state.PaceExpected = expected;
        var inBar = (state.Pace - expected.Mean) / expected.Spread;
        var whole = (state.Pace - expected.BarlessMean) / expected.BarlessSpread;
        var byBar = Math.Abs(inBar) > Math.Abs(whole);
        var view = _pace.View(LoadView.Pace, "cut time", state.Pace, byBar ? expected.Mean : expected.BarlessMean, byBar ? expected.Spread : expected.BarlessSpread, byBar ? inBar : whole);
        views.Add(view);
        state.Representative[(int)LoadView.Pace] = IsScatter(expected, _paceTrend, 0);
        context.Pace = view;
    }

    private void LookAtLoop(Cut cut, CauseContext context, List<ViewScore> views)
    {
        if (cut.Loop is not { } loop || !(loop.PowerRatio > 0))
            return;

        // Of pure noise the ratio follows F with two degrees of freedom a frequency; as a normal deviate it compares across samplings.
        var p = 1 - FisherSnedecor.CDF(2 * loop.Harmonics, 2 * loop.Neighbours, loop.PowerRatio);
        var statistic = -Normal.InvCDF(0, 1, Math.Clamp(p, 1e-12, 1 - 1e-12));
        var view = _loop.View(LoadView.Loop, "blade loop", Math.Log(loop.PowerRatio), 0, 1, statistic);
        views.Add(view);
        context.Loop = view;
        context.LoopSwing = loop.Swing;
    }
}
