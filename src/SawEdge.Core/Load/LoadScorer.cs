using System.Globalization;
using MathNet.Numerics.Distributions;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Statistics;

namespace SawEdge.Core.Load;

/// <summary>A finished cut as the scorer takes it.</summary>
/// <param name="Evidence">What was seen of it.</param>
/// <param name="Curve">How it should run along its depth; null where the job is not known.</param>
/// <param name="Learned">Cut time learned from cuts before it; null where none was.</param>
/// <param name="AreaCm2">Area cut, cm2, or NaN.</param>
/// <param name="BreakIn">Factor of a blade that is being broken in on the cutting rate, above 0 and up to 1.</param>
internal readonly record struct ScoredCut(CutEvidence Evidence, CutCurve? Curve, LearnedTime? Learned, double AreaCm2, double BreakIn = 1)
{
    /// <summary>Time from contact to breakthrough without holds, s, or NaN.</summary>
    public double RunningSeconds => (Evidence.Cut.CutEndedAt - Evidence.Cut.CutStartedAt)?.TotalSeconds - Evidence.Cut.HoldSeconds ?? double.NaN;
}

/// <summary>
/// Scores the cuts of one saw, one after the other: four views, each with a p-value from the saw's own accepted cuts, and their
/// smallest, corrected for how many were looked at (Šidák 1967). What it learned can be written down and gone on from.
/// </summary>
internal sealed class LoadScorer
{
    /// <summary>A cut that fewer than this share of normal cuts would match is left out of what is learned.</summary>
    public const double LeftOutBelow = 1e-3;

    /// <summary>Cuts in a row that may be left out for the same view; then what is seen is taken as the new normal.</summary>
    public const int MostLeftOut = 40;

    // Left out so often in a row, it is no single odd cut.
    private const int Lasting = 8;

    // A view that was unusual for long is heeded again once it shows what one normal cut in twenty shows.
    private const double UsualAgain = 0.05;

    private const string Energy = "specific energy";
    private const string Lately = "specific energy over the last bars";
    private const string Idle = "idle load";
    private const int Families = 12;
    private const int Sections = 20;

    // Area of a cut of which none is known, m2, so that a blade's level may still move; about a 100 mm round.
    private const double UsualAreaM2 = 0.008;

    private static readonly TrendPriors LevelPriors = new();
    private static readonly TrendPriors PacePriors = new() { FirstLevelSd = 0.1, Slope = 0.005, SlopeSd = 0.01, SigmaCut = 0.02, SigmaBar = 0.01 };
    private static readonly TailPrior LevelTail = new(2, 8);
    private static readonly TailPrior LatelyTail = new(1, 6);
    private static readonly TailPrior IdleTail = new(1, 5);
    private static readonly TailPrior ShapeTail = new(80, 10);
    private static readonly TailPrior PaceTail = new(1.5, 6);
    private static readonly TailPrior LoopTail = new(0.6, 8);

    private readonly Channel _level = new(LevelTail);
    private readonly Channel _lately = new(LatelyTail);
    private readonly Channel _idle = new(IdleTail);
    private readonly Channel _shape = new(ShapeTail);
    private readonly Channel _pace = new(PaceTail);
    private readonly Channel _loop = new(LoopTail);
    private readonly SawMachine _machine;
    private readonly LoadSettings _settings;
    private readonly OnsetTracker _onset = new();
    private readonly BarTracker _bars = new();
    private readonly BarRuns _runs = new();
    private readonly CutRate _rate = new();
    private BladeTrend _levelTrend = new(LevelPriors, Families, Sections);
    private BladeTrend _paceTrend = new(PacePriors, 0, Sections);
    private ShapeModel _shapes = new();
    private IdleModel _idles = new();
    private double _levelAreaM2;
    private double _paceAreaM2;

    /// <summary>A scorer that has seen nothing.</summary>
    public LoadScorer(SawMachine machine, LoadSettings settings) => (_machine, _settings) = (machine, settings);

    /// <summary>Level of the blade now, freed of the kind of cut.</summary>
    public double LevelNow => _levelTrend.LevelNow;

    /// <summary>Scatter from bar to bar of the level.</summary>
    public double SigmaBar => _levelTrend.SigmaBar;

    /// <summary>ln(specific energy / model) of the cut that was scored last, freed of its kind; NaN where it was not known.</summary>
    public double LastWear { get; private set; } = double.NaN;

    /// <summary>By how much the last cut's level lay above what its blade let expect, and the standard deviation of that; NaN where it was not known.</summary>
    public (double Deviation, double Spread) LastLevel { get; private set; } = (double.NaN, double.NaN);

    /// <summary>Another blade is on the saw.</summary>
    /// <param name="level">Level expected of it.</param>
    /// <param name="sd">Standard deviation of that.</param>
    public void ChangeBlade(double level, double sd)
    {
        _levelTrend.ChangeBlade(level, sd);
        _paceTrend.ChangeBlade(0, PacePriors.FirstLevelSd);
        _level.LeftOut = _lately.LeftOut = _pace.LeftOut = _loop.LeftOut = 0;
        _onset.Clear();
        _runs.Clear();
    }

    /// <summary>Scores a cut, and learns from it where it is a normal one.</summary>
    public LoadAssessment Score(in ScoredCut scored)
    {
        var (cut, job) = (scored.Evidence.Cut, scored.Evidence.Job);
        var doubts = new List<string>();
        var areaM2 = double.IsNaN(scored.AreaCm2) ? UsualAreaM2 : scored.AreaCm2 / 10_000;
        _levelAreaM2 += areaM2;
        _paceAreaM2 += areaM2;
        LastWear = double.NaN;
        LastLevel = (double.NaN, double.NaN);
        var threshold = _settings.Threshold ?? _rate.Threshold(_settings.FalseAlarmsPerMonth);
        var context = new CauseContext { Findings = scored.Evidence.Findings, Threshold = threshold };
        var curve = scored.Curve;
        if (curve is not null && IsFull(cut) && !SectionFit.Fits(cut, curve.Section))
        {
            doubts.Add(string.Create(CultureInfo.InvariantCulture, $"The section of job '{cut.Job}' is {curve.Section.HeightMm:0.#} mm high, but the head travelled {cut.DepthMm:0.#} mm in the stock: another job may be loaded than the controller says. The cut is held against earlier cuts instead of the section."));
            context.SectionMisfit = true;
            curve = null;
        }

        // Loads that are wrong say nothing; what is wrong stands in the cut's notes. The time is still what it is.
        var loadIsSound = (cut.Doubts & (SignalDoubts.LoadConstant | SignalDoubts.LoadNegative | SignalDoubts.LoadSaturated)) == 0;
        var looked = cut.Outcome is CutOutcome.Completed or CutOutcome.Trim or CutOutcome.Partial;
        var bar = _bars.BarOf(cut);
        var kind = curve is null ? KindWithoutSection(cut, scored.RunningSeconds) : $"{curve.Material.Name}|{curve.Section.Notation}";
        var (idleExpected, idleSpread) = _idles.Expect(kind, cut.MeanBladeSpeedMMin, cut.StartedAt);
        var idle = double.IsNaN(cut.IdleLoadKw) ? idleExpected : cut.IdleLoadKw;
        var residuals = looked && loadIsSound ? CutResiduals.Of(cut, idle, curve, _machine.DriveEfficiency) : null;
        if (residuals is not null && WrongUnit(cut, residuals) is { } unit)
        {
            doubts.Add(unit);
            residuals = null;
            looked = false;
        }

        var views = new List<ViewScore>(5);
        var state = new CutState(looked ? residuals : null) { IdleKind = kind, Bar = bar, IdleKw = idle, IsGuess = curve is null && cut.Job.Length == 0 };
        if (looked)
        {
            if (residuals is { Basis: not ResidualBasis.None })
                LookAtLoad(scored, curve, residuals, state, context, views);
            if (loadIsSound)
                LookAtIdle(cut, idleExpected, idleSpread, context, views);
            LookAtPace(scored, state, context, views);
            if (loadIsSound)
                LookAtLoop(cut, context, views);
            _rate.Count(cut.StartedAt);
        }

        var p = Combined(views);
        var heeded = Combined([.. views.Where(view => !ChannelOf(view).Muted)]) ?? 1;
        var why = WhyLeftOut(cut, scored.Evidence.Findings, doubts, views, state.IsGuess ? 1 : heeded);
        var accepted = looked && views.Count > 0 && why.Length == 0;
        if (accepted)
        {
            Learn(scored, cut, residuals, state, (idleExpected, idleSpread), views);
            why = "accepted";
        }
        else if (looked)
        {
            why = CountLeftOut(views, why);
        }

        context.Score = p is { } value ? Math.Min(LoadAssessment.Cap, 0 - Math.Log10(value)) : null;
        context.Job = job;
        context.Cut = cut;
        context.Onset = _onset;
        return new LoadAssessment
        {
            Score = context.Score,
            Threshold = threshold,
            Views = views,
            Basis = BasisOf(residuals, views),
            Profile = residuals is { Basis: not ResidualBasis.None } ? ProfileOf(cut, idle, residuals, state) : null,
            Accepted = accepted,
            Why = why,
            Causes = CauseTable.Rank(context),
            Findings = scored.Evidence.Findings,
            Doubts = doubts,
        };
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        _levelTrend.Save(to);
        _paceTrend.Save(to);
        _shapes.Save(to);
        _idles.Save(to);
        _onset.Save(to);
        _bars.Save(to);
        _runs.Save(to);
        _rate.Save(to);
        to.Number(_levelAreaM2);
        to.Number(_paceAreaM2);
        foreach (var channel in Channels)
            channel.Save(to);
    }

    /// <summary>Goes on from what was written down.</summary>
    public void Restore(MemoryReader from)
    {
        _levelTrend = BladeTrend.Restore(from, LevelPriors, Families, Sections);
        _paceTrend = BladeTrend.Restore(from, PacePriors, 0, Sections);
        _shapes = ShapeModel.Restore(from);
        _idles = IdleModel.Restore(from);
        _onset.Restore(from);
        _bars.Restore(from);
        _runs.Restore(from);
        _rate.Restore(from);
        _levelAreaM2 = from.Number();
        _paceAreaM2 = from.Number();
        foreach (var channel in Channels)
            channel.Restore(from);
    }

    private Channel[] Channels => [_level, _lately, _idle, _shape, _pace, _loop];

    private static bool IsFull(Cut cut) => cut.Outcome is CutOutcome.Completed or CutOutcome.Trim;

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
            curve is null ? state.Kind : $"{curve.Material.Name}|{curve.Section.Family}|{curve.Blade.TypeName}",
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
        var view = _level.View(LoadView.Level, Energy, state.Level, byBar ? expected.Mean : expected.BarlessMean, byBar ? expected.Spread : expected.BarlessSpread, statistic);
        var lately = _lately.View(LoadView.Level, Lately, state.Level, expected.BarlessMean, expected.BarlessSpread, together);
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

    private void LookAtIdle(Cut cut, double expected, double spread, CauseContext context, List<ViewScore> views)
    {
        if (double.IsNaN(expected) || double.IsNaN(cut.IdleLoadKw) || !(expected > 0))
            return;
        var view = _idle.View(LoadView.Level, Idle, cut.IdleLoadKw, expected, spread, (cut.IdleLoadKw - expected) / spread);
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

    // 1 - (1 - p)^m for the smallest of m p-values.
    private static double? Combined(List<ViewScore> views)
    {
        if (views.Count == 0)
            return null;
        var least = views.Min(view => view.PValue);
        return least < 1e-9 ? Math.Min(1, least * views.Count) : 1 - Math.Pow(1 - least, views.Count);
    }

    private static string WhyLeftOut(Cut cut, IReadOnlyList<LiveFinding> findings, List<string> doubts, List<ViewScore> views, double p)
    {
        if (!IsFull(cut))
            return $"left out: {CutOutcomes.ToName(cut.Outcome).Replace('_', ' ')}";
        if (doubts.Count > 0 || cut.Doubts != SignalDoubts.None)
            return "left out: signals or job in doubt";
        if (findings.Count > 0)
            return $"left out: {findings[0].Kind.ToName().Replace('_', ' ')} while it ran";
        if (cut.Coverage < CutFigures.LeastCoverage)
            return "left out: too few of its frames were seen";
        if (views.Count == 0)
            return "left out: the signals allow no view of it";
        if (p >= LeftOutBelow)
            return "";
        var worst = views.MinBy(view => view.PValue)!;
        return string.Create(CultureInfo.InvariantCulture, $"left out: {worst.What} is unusual (score {worst.Score:0.0})");
    }

    private void Learn(in ScoredCut scored, Cut cut, CutResiduals? residuals, CutState state, (double Mean, double Spread) idle, List<ViewScore> views)
    {
        var cutOff = 1 - Math.Pow(1 - LeftOutBelow, 1.0 / views.Count);
        if (residuals is not null && !double.IsNaN(state.Level))
        {
            if (state.Representative[(int)LoadView.Level])
                _runs.Add(state.Bar, state.Level - state.LevelExpected.BarlessMean);
            _levelTrend.Learn(state.LevelCut, state.Level, state.LevelExpected);
            if (!double.IsNaN(state.ShapeLevel))
                _shapes.Learn(state.Kind, residuals, state.ShapeLevel, state.Standardised);
        }

        if (!double.IsNaN(state.Pace))
            _paceTrend.Learn(state.PaceCut, state.Pace, state.PaceExpected);
        if (cut.IdleLoadKw > 0)
            _idles.Learn(state.IdleKind, cut.IdleLoadKw, cut.MeanBladeSpeedMMin, cut.StartedAt, idle.Mean, idle.Spread);
        foreach (var view in views)
            ChannelOf(view).Learn(view, cutOff, state.IsRepresentative(view, _idles));
    }

    // What has been unusual for long is what this saw is like now, and a saw that learns nothing any more is blind to everything else.
    private string CountLeftOut(List<ViewScore> views, string why)
    {
        foreach (var view in views)
        {
            var channel = ChannelOf(view);
            if (!(view.PValue < LeftOutBelow))
            {
                channel.LeftOut = 0;
                continue;
            }

            if (++channel.LeftOut >= Lasting)
                channel.Suspect();
            if (channel.LeftOut < MostLeftOut)
                continue;
            channel.LeftOut = 0;
            if (channel == _level || channel == _lately)
                LoosenLevel();
            else if (channel == _pace)
                _paceTrend.Loosen();
            else if (channel == _idle)
                _idles.Loosen();
            else
                channel.Muted = true;
            why += string.Create(CultureInfo.InvariantCulture, $"; after {MostLeftOut} such cuts in a row {view.What} is taken as this saw's new normal");
        }

        return why;
    }

    private void LoosenLevel()
    {
        _levelTrend.Loosen();
        _runs.Clear();
    }

    private Channel ChannelOf(ViewScore view) => view.View switch
    {
        LoadView.Shape => _shape,
        LoadView.Pace => _pace,
        LoadView.Loop => _loop,
        _ => view.What switch { Idle => _idle, Lately => _lately, _ => _level },
    };

    // Thirty times off is no material and no wear.
    private string? WrongUnit(Cut cut, CutResiduals residuals)
    {
        const double Far = 30;
        if (!double.IsNaN(residuals.Whole) && Math.Abs(residuals.Whole) > Math.Log(Far))
        {
            var factor = Math.Exp(residuals.Whole);
            return string.Create(CultureInfo.InvariantCulture, $"The motor load is {(factor > 1 ? factor : 1 / factor):0} times {(factor > 1 ? "more" : "less")} than this cut can have needed: check the unit of motor_load (W read as kW is 1000 times).");
        }

        if (_machine.RatedPowerKw is { } rated && cut.MeanLoadKw > 10 * rated)
            return string.Create(CultureInfo.InvariantCulture, $"The motor load of {cut.MeanLoadKw:0} kW is {cut.MeanLoadKw / rated:0} times the rated power of {rated:0.##} kW: check the unit of motor_load (W read as kW is 1000 times).");
        return null;
    }

    private ResidualProfile ProfileOf(Cut cut, double idle, CutResiduals residuals, CutState state)
    {
        var bins = residuals.Rho.Length;
        var (expected, low, high, standardised) = (new float[bins], new float[bins], new float[bins], new float[bins]);
        Span<double> spread = stackalloc double[bins];
        var mean = _shapes.MeanOf(state.Kind);
        _shapes.SpreadOf(state.Kind, residuals, spread);

        // Where the section is known as a whole only, the bins' own level stands for it; else what was expected of the level.
        var level = residuals.Basis == ResidualBasis.Section ? state.ShapeLevel : state.LevelExpected.Mean;
        var levelSpread = residuals.Basis == ResidualBasis.Section ? 0 : state.LevelExpected.Spread;
        for (var j = 0; j < bins; j++)
        {
            var reach = 1.96 * Math.Sqrt((spread[j] * spread[j]) + (levelSpread * levelSpread));
            expected[j] = (float)(idle + (residuals.ModelKw[j] * Math.Exp(level + mean[j])));
            low[j] = (float)(idle + (residuals.ModelKw[j] * Math.Exp(level + mean[j] - reach)));
            high[j] = (float)(idle + (residuals.ModelKw[j] * Math.Exp(level + mean[j] + reach)));
            standardised[j] = (float)state.Standardised[j];
        }

        return new ResidualProfile(residuals.ByDepth, cut.Profile!.MeanLoadKw, expected, low, high, standardised);
    }

    private static string BasisOf(CutResiduals? residuals, List<ViewScore> views)
    {
        string Of(LoadView view, string how) => views.Exists(v => v.View == view) ? how : "none";
        var level = residuals?.Basis switch { ResidualBasis.Depth => "section by depth", ResidualBasis.Section => "section as a whole", ResidualBasis.Job => "earlier cuts of the job", _ => "idle load only" };
        var shape = residuals is null ? "none" : residuals.ByDepth ? "depth" : "time share";
        return $"level: {Of(LoadView.Level, level)}; shape: {Of(LoadView.Shape, shape)}; pace: {Of(LoadView.Pace, "learned time")}; loop: {Of(LoadView.Loop, "blade position")}";
    }

    /// <summary>What the looks at one cut leave for learning from it.</summary>
    private sealed class CutState
    {
        public CutState(CutResiduals? residuals)
        {
            Standardised = new double[residuals?.Rho.Length ?? 0];
            Array.Fill(Standardised, double.NaN);
        }

        public string Kind { get; set; } = "";

        public required string IdleKind { get; init; }

        public required string Bar { get; init; }

        public required double IdleKw { get; init; }

        /// <summary>Whether even the job is a guess: how far unlike cuts differ from each other is then all that can be learned.</summary>
        public required bool IsGuess { get; init; }

        public double Level { get; set; } = double.NaN;

        public double ShapeLevel { get; set; } = double.NaN;

        /// <summary>Variance of the level from the scatter of its bins.</summary>
        public double LevelNoise { get; set; }

        public double Pace { get; set; } = double.NaN;

        public TrendCut LevelCut { get; set; }

        public TrendCut PaceCut { get; set; }

        public TrendExpectation LevelExpected { get; set; }

        public TrendExpectation PaceExpected { get; set; }

        public double[] Standardised { get; }

        /// <summary>By view: whether the statistic is one of a cut that is known well enough to count among the saw's others.</summary>
        public bool[] Representative { get; } = [false, false, false, true];

        public bool IsRepresentative(ViewScore view, IdleModel idles) => view.What == Idle ? idles.IsScatter(view.Spread) || IsGuess : Representative[(int)view.View];
    }

    /// <summary>One statistic: how rare its values are, and how long it has been unusual.</summary>
    private sealed class Channel(TailPrior prior)
    {
        private const int Wait = 15;
        private const double Suspicious = 0.2;

        private readonly Queue<(double Statistic, double PValue)> _waiting = new();
        private TailModel _tail = new(prior);

        /// <summary>Cuts in a row that were left out for it.</summary>
        public int LeftOut { get; set; }

        /// <summary>Whether it was unusual for so long that it keeps no cut from being learned from, until it is usual again.</summary>
        public bool Muted { get; set; }

        public ViewScore View(LoadView view, string what, double value, double expected, double spread, double statistic) => new()
        {
            View = view,
            What = what,
            Value = value,
            Expected = expected,
            Spread = spread,
            Statistic = statistic,
            PValue = _tail.PValue(view == LoadView.Loop ? Math.Max(0, statistic) : Math.Abs(statistic)),
            History = _tail.History,
        };

        public void Learn(ViewScore view, double cutOff, bool isRepresentative)
        {
            LeftOut = 0;
            Muted &= view.PValue < UsualAgain;
            if (!isRepresentative)
                return;
            _waiting.Enqueue((view.Statistic, view.PValue));
            if (_waiting.Count > Wait)
                Admit(_waiting.Dequeue().Statistic, cutOff, view.View);
        }

        /// <summary>Something is wrong: what led there, and was accepted because it was not far out yet, is not what normal cuts show.</summary>
        public void Suspect()
        {
            for (var i = _waiting.Count; i > 0; i--)
            {
                var waiting = _waiting.Dequeue();
                if (waiting.PValue >= Suspicious)
                    _waiting.Enqueue(waiting);
            }
        }

        private void Admit(double statistic, double cutOff, LoadView view) => _tail.Learn(view == LoadView.Loop ? Math.Max(0, statistic) : Math.Abs(statistic), cutOff);

        public void Save(MemoryWriter to)
        {
            to.Count(LeftOut);
            to.Flag(Muted);
            to.Numbers([.. _waiting.SelectMany(w => new[] { w.Statistic, w.PValue })]);
            _tail.Save(to);
        }

        public void Restore(MemoryReader from)
        {
            LeftOut = from.Count();
            Muted = from.Flag();
            _waiting.Clear();
            foreach (var two in from.Numbers().Chunk(2))
                _waiting.Enqueue((two[0], two[1]));
            _tail = TailModel.Restore(from, prior);
        }
    }
}
