using System.Globalization;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;

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
internal sealed partial class LoadScorer
{
    /// <summary>A cut that fewer than this share of normal cuts would match is left out of what is learned.</summary>
    public const double LeftOutBelow = 1e-3;

    /// <summary>Cuts in a row that may be left out for the same view; then what is seen is taken as the new normal.</summary>
    public const int MostLeftOut = 40;

    // Left out so often in a row, it is no single odd cut.
    private const int Lasting = 8;

    private const string Energy = "specific energy";
    private const string Lately = "specific energy over the last bars";
    internal const string Idle = "idle load";
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

    private readonly ViewChannel _level = new(LevelTail);
    private readonly ViewChannel _lately = new(LatelyTail);
    private readonly ViewChannel _idle = new(IdleTail);
    private readonly ViewChannel _shape = new(ShapeTail);
    private readonly ViewChannel _pace = new(PaceTail);
    private readonly ViewChannel _loop = new(LoopTail);
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
                LookAtIdle(cut, idleExpected, idleSpread, state, context, views);
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

    private ViewChannel[] Channels => [_level, _lately, _idle, _shape, _pace, _loop];

    private static bool IsFull(Cut cut) => cut.Outcome is CutOutcome.Completed or CutOutcome.Trim;

    // 1 - (1 - p)^m for the smallest of m p-values.
    private static double? Combined(List<ViewScore> views)
    {
        if (views.Count == 0)
            return null;
        var least = views.Min(view => view.PValue);
        return least < 1e-9 ? Math.Min(1, least * views.Count) : 1 - Math.Pow(1 - least, views.Count);
    }
}
