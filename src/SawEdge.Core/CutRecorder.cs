using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Core;

/// <summary>What a saw has learned from its finished cuts: all that a restart needs, and enough to go on from in computing records anew.</summary>
public sealed record RecorderMemory
{
    /// <summary>Version of what the bytes hold: <see cref="LoadAssessment.Algorithm"/> when they were written.</summary>
    public int Algorithm { get; init; } = LoadAssessment.Algorithm;

    /// <summary>Cut times learned so far.</summary>
    public LearnedState Learned { get; init; } = new([], []);

    /// <summary>The blades, the latest last, without their wear.</summary>
    public IReadOnlyList<BladeAccount> Blades { get; init; } = [];

    /// <summary>What the load score learned; empty before the first cut.</summary>
    public byte[] Load { get; init; } = [];

    /// <summary>End of the last cut; null before the first.</summary>
    public DateTimeOffset? LastCutEnd { get; init; }

    /// <summary>
    /// Where this memory is that of an earlier moment: the cuts from this one on are to be taken again after
    /// <see cref="CutRecorder.Restore"/>, for they may yet show that a blade was changed before them. Null: nothing is.
    /// </summary>
    public DateTimeOffset? TakeAgainFrom { get; init; }
}

/// <summary>
/// Makes records of finished cycles: expectation, figures, blade, load score. The second half of <see cref="SawPipeline"/>, and
/// the whole of it where records are computed anew from stored evidence. Deterministic, no clock; one instance a saw.
/// </summary>
public sealed class CutRecorder
{
    // Whether an operator breaks a blade in as the standard says, nobody knows: times are learned from broken-in blades.
    private const double BrokenIn = 0.98;

    private readonly SawMachine _machine;
    private readonly LoadSettings _settings;
    private string _blade;
    private readonly ChangeWatch _watch = new();
    private BladeShelf _shelf;
    private LoadScorer _scorer;
    private LearnedTimes _learned = new();
    private DateTimeOffset? _lastCutEnd;

    /// <summary>Builds the recorder of one saw.</summary>
    /// <param name="machine">The saw.</param>
    /// <param name="settings">What a person set about the load score.</param>
    /// <param name="blade">Identity of the blade where neither the controller nor a person says, or null.</param>
    public CutRecorder(SawMachine machine, LoadSettings settings, string? blade = null)
    {
        _machine = machine;
        _settings = settings;
        _blade = blade ?? "";
        _shelf = new BladeShelf(_blade);
        _scorer = new LoadScorer(machine, settings);
    }

    /// <summary>What people said about this saw's blades; a new book holds from the next cut on.</summary>
    public BladeBook Entries { get; set; } = BladeBook.Empty;

    /// <summary>Identity of the blade where neither the controller nor a person says, or empty; another holds from the next cut on.</summary>
    public string ConfiguredBlade
    {
        get => _blade;
        set => _shelf.Configured = _blade = value;
    }

    /// <summary>The blades as known now, the latest last.</summary>
    public IReadOnlyList<BladeAccount> Blades => _shelf.Accounts;

    /// <summary>Whether nothing that was handed out may still come again corrected.</summary>
    public bool IsSettled => _watch.Before is null;

    /// <summary>
    /// Makes the record of a finished cycle. Gives more than one where this cycle showed that records before it have to be
    /// computed anew (a blade that must have been changed): those come again, with the same identity, oldest first.
    /// </summary>
    public IReadOnlyList<FinishedCut> Take(CutEvidence evidence)
    {
        var cut = evidence.Cut;
        if (_lastCutEnd is { } end && cut.StartedAt - end >= ChangeWatch.LeastStop && cut.BladeId.Length == 0)
            _watch.Begin(Remember() with { TakeAgainFrom = cut.StartedAt }, end);
        var finished = TakeOne(evidence);
        if (_watch.Before is null || !_watch.Add(evidence, _scorer.LastLevel.Deviation, _scorer.LastLevel.Spread, _scorer.SigmaBar))
            return [finished];

        var (before, cuts, stoppedAt) = (_watch.Before, _watch.Cuts.ToArray(), _watch.StoppedAt);
        _watch.End();
        if (Entries.DeniesChange(stoppedAt, cuts[0].Cut.StartedAt) || Entries.ChangeAt(cut.StartedAt) is { } entry && entry.At >= stoppedAt)
            return [finished];
        Restore(before);
        var name = string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{_machine.Name} {cuts[0].Cut.StartedAt.UtcDateTime:yyyy-MM-dd HH:mm}");
        _shelf.Propose(name, cuts[0].Cut.StartedAt);
        return [.. cuts.Select((each, i) => TakeOne(each) with { IsCorrection = i < cuts.Length - 1 })];
    }

    /// <summary>
    /// The load that a cut of a job is expected to take along its depth if it is made now; null where that cannot be told. It changes nothing of
    /// what is learned.
    /// </summary>
    /// <param name="job">The job.</param>
    /// <param name="bladeSpeedMMin">Blade speed, m/min; NaN where it is not known, and then the recommended one is assumed.</param>
    public LoadOutlook? Outlook(CutJob job, double bladeSpeedMMin)
    {
        var standard = CuttingModel.Standard(job, _machine, Positive(bladeSpeedMMin), _shelf.AreaSinceNewCm2);
        if (!(standard.CutSeconds > 0) || !double.IsFinite(standard.CutSeconds))
            return null;
        var learned = standard.Basis == StandardBasis.Catalogue ? _learned.Predict(KeyOf(job), standard.CutSeconds) : _learned.PredictJob(_machine.Name, job.JobId);
        var curve = learned is null ? standard.Curve : standard.Curve.Taking(learned.ExpectedS);

        // The interval holds 95 of 100: nearly four standard deviations from end to end.
        var paceSpread = learned is null ? 0 : Math.Log(learned.HighS / learned.LowS) / 3.92;
        return _scorer.Outlook(curve, paceSpread);
    }

    /// <summary>What must survive a restart. Where <see cref="IsSettled"/> is false it is that of an earlier moment, see <see cref="RecorderMemory.TakeAgainFrom"/>.</summary>
    public RecorderMemory Save() => _watch.Before ?? Remember();

    /// <summary>Continues from what <see cref="Save"/> gave.</summary>
    /// <param name="memory">What was saved.</param>
    /// <exception cref="FormatException">It is damaged, or of another <see cref="LoadAssessment.Algorithm"/>: records have to be computed anew.</exception>
    public void Restore(RecorderMemory memory)
    {
        if (memory.Algorithm != LoadAssessment.Algorithm)
            throw new FormatException($"It was learned by version {memory.Algorithm} of the load score; this is version {LoadAssessment.Algorithm}.");
        var (shelf, scorer) = (new BladeShelf(_blade), new LoadScorer(_machine, _settings));
        if (memory.Load.Length > 0)
        {
            var reader = new MemoryReader(memory.Load);
            shelf.Restore(memory.Blades, reader);
            scorer.Restore(reader);
        }

        _learned = LearnedTimes.Restore(memory.Learned);
        (_shelf, _scorer, _lastCutEnd) = (shelf, scorer, memory.LastCutEnd);
        _watch.End();
    }

    private RecorderMemory Remember()
    {
        var writer = new MemoryWriter();
        _shelf.Save(writer);
        _scorer.Save(writer);
        return new RecorderMemory
        {
            Learned = _learned.Save(),
            Blades = [.. _shelf.Accounts.Select(account => account with { Wear = [] })],
            Load = writer.ToArray(),
            LastCutEnd = _lastCutEnd,
        };
    }

    /// <summary>The identity of a cycle.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="started">Its start, in whole milliseconds.</param>
    public static string IdOf(string saw, DateTimeOffset started) =>
        $"{saw}-{started.UtcDateTime.ToString("yyyyMMdd'T'HHmmssfff'Z'", System.Globalization.CultureInfo.InvariantCulture)}";

    private FinishedCut TakeOne(CutEvidence evidence)
    {
        var (cut, job) = (evidence.Cut, evidence.Job);
        var notes = new List<string>(cut.Notes);
        if (job is null && cut.Job.Length > 0)
            notes.Add($"job '{cut.Job}' is not in the job list");
        var blade = Mount(cut);
        var standard = job is null ? null : CuttingModel.Standard(job, _machine, Positive(cut.MeanBladeSpeedMMin), _shelf.AreaSinceNewCm2);
        var started = CutFigureRounding.Moment(cut.StartedAt);
        var ended = CutFigureRounding.Moment(cut.EndedAt);
        var cutStarted = cut.CutStartedAt is { } from ? CutFigureRounding.Moment(from) : (DateTimeOffset?)null;
        var cutEnded = cut.CutEndedAt is { } to ? CutFigureRounding.Moment(to) : (DateTimeOffset?)null;
        var cutTime = cutStarted is { } a && cutEnded is { } b ? (b - a).TotalSeconds : double.NaN;
        var area = AreaOf(cut, job);
        var standardSeconds = StandardSecondsOf(cut, standard);
        var full = cut.Outcome is CutOutcome.Completed or CutOutcome.Trim or CutOutcome.Partial;
        var kerf = standard?.Curve.Blade.KerfMm;
        var learned = full && cut.Outcome != CutOutcome.Partial ? Expect(cut, job, standard) : null;
        var breakIn = standard?.Factors.FirstOrDefault(factor => factor.Name == "break_in")?.Value ?? 1;
        var assessment = _scorer.Score(new ScoredCut(evidence, standard?.Curve, learned, area, breakIn));
        if (full && cut.Outcome != CutOutcome.Partial && IsNormal(assessment) && breakIn > BrokenIn)
            Learn(cut, job, standard, cutTime);
        var total = AddToBlade(cut, area);
        assessment = assessment with { Wear = _shelf.Current?.Forecast };
        notes.AddRange(assessment.Doubts);
        notes.AddRange(evidence.Findings.Select(finding => finding.Words));
        _lastCutEnd = ended;

        var record = new CycleRecord
        {
            CycleId = IdOf(_machine.Name, started),
            Saw = _machine.Name,
            StartedAt = started,
            CutStartedAt = cutStarted,
            CutEndedAt = cutEnded,
            EndedAt = ended,
            Outcome = cut.Outcome,
            Mode = cut.Mode,
            Job = cut.Job,
            Material = job?.Material.Name ?? "",
            Section = job?.Section.Notation ?? "",
            PartLengthMm = job?.PartLengthMm,
            Blade = blade,
            CutAreaCm2 = CutFigureRounding.Figure(area),
            CutTimeS = CutFigureRounding.Seconds(cutTime),
            StandardCutTimeS = CutFigureRounding.Seconds(standardSeconds),
            LearnedCutTimeS = CutFigureRounding.Seconds(learned?.ExpectedS),
            LearnedLowS = CutFigureRounding.Seconds(learned?.LowS),
            LearnedHighS = CutFigureRounding.Seconds(learned?.HighS),
            CutTimeRatio = full ? CutFigureRounding.Figure(cutTime / standardSeconds) : null,
            CycleTimeS = CutFigureRounding.Seconds((ended - started).TotalSeconds),
            StandardCycleTimeS = CutFigureRounding.Seconds(standard?.CycleSeconds),
            CuttingRateCm2Min = CutFigureRounding.Figure(area / cutTime * 60),
            MeanDescentMmMin = CutFigureRounding.Figure(cut.DepthMm / cutTime * 60),
            MeanLoadKw = CutFigureRounding.Figure(cut.MeanLoadKw),
            PeakLoadKw = CutFigureRounding.Figure(cut.PeakLoadKw),
            IdleLoadKw = CutFigureRounding.Figure(cut.IdleLoadKw),
            CuttingEnergyKj = CutFigureRounding.Figure(cut.EnergyKj),

            // kJ over cm2 times mm: 1000 J over 100 mm3.
            SpecificEnergyJMm3 = kerf is { } mm ? CutFigureRounding.Figure(cut.EnergyKj * 10 / (area * mm)) : null,
            MeanBladeSpeedMMin = CutFigureRounding.Figure(cut.MeanBladeSpeedMMin),
            LoadScore = Score(assessment.Score),
            ScoreLevel = Score(assessment.ScoreOf(LoadView.Level)),
            ScoreShape = Score(assessment.ScoreOf(LoadView.Shape)),
            ScorePace = Score(assessment.ScoreOf(LoadView.Pace)),
            ScoreLoop = Score(assessment.ScoreOf(LoadView.Loop)),
            LikelyCause = assessment.Causes is [var first, ..] && (assessment.IsUnusual || assessment.Findings.Count > 0 || assessment.Doubts.Count > 0) ? first.Name : "",
            BladeAreaM2 = blade.Length > 0 && total is { } cm2 ? CutFigureRounding.Figure(cm2 / 10_000) : null,
            PartCount = cut.PartCount,
            Frames = cut.Frames,
            Coverage = CutFigureRounding.Figure(cut.Coverage),
            Basis = $"{BasisOf(cut, standard)}; {assessment.Basis}",
            Notes = string.Join("; ", notes),
        };
        return new FinishedCut(record, evidence, assessment);
    }

    private static double? Score(double? value) => value is { } score ? Math.Round(score, 3) : null;

    // Puts the blade of a cut on the saw; where it is another one, what the load score expects changes with it.
    private string Mount(Cut cut)
    {
        var (blade, origin) = _shelf.BladeOf(cut.BladeId, cut.StartedAt, Entries);
        var first = _shelf.Current is null;
        if (_shelf.Mount(blade, origin, cut.StartedAt) && !first)
        {
            var (level, sd) = _shelf.ExpectedLevel(_scorer.LevelNow);
            _scorer.ChangeBlade(level, sd);
        }

        return blade;
    }

    private static double? Positive(double value) => value > 0 ? value : null;

    // What such a cut is expected to take before this one is learned from. A plant's own standard and a catalogue's are not the
    // same measure, so a job with its own is learned by its number, as an unknown one is.
    private LearnedTime? Expect(Cut cut, CutJob? job, StandardTime? standard)
    {
        if (job is not null && standard is { Basis: StandardBasis.Catalogue })
            return _learned.Predict(KeyOf(job), standard.CutSeconds);
        return cut.Job.Length == 0 ? null : _learned.PredictJob(_machine.Name, cut.Job);
    }

    private void Learn(Cut cut, CutJob? job, StandardTime? standard, double cutTime)
    {
        if (cut.HoldSeconds > 0 || !(cut.Coverage >= CutFigures.LeastCoverage))
            return;
        if (job is not null && standard is { Basis: StandardBasis.Catalogue })
            _learned.Observe(KeyOf(job), cutTime, standard.CutSeconds);
        else if (cut.Job.Length > 0)
            _learned.ObserveJob(_machine.Name, cut.Job, cutTime);
    }

    // A cut of which there is no view yet, as a job's first without a load, is normal as far as anyone can tell.
    private static bool IsNormal(LoadAssessment assessment) =>
        assessment.Accepted || (assessment.Views.Count == 0 && assessment.Doubts.Count == 0 && assessment.Findings.Count == 0);

    private LearnedKey KeyOf(CutJob job) => new(_machine.Name, job.Material.Name, job.Section.Family, job.Blade?.TypeName ?? "");

    // A cut that stopped short cut as much of the section as it went deep.
    private static double AreaOf(Cut cut, CutJob? job) => (job, cut.Outcome) switch
    {
        (null, _) => double.NaN,
        (_, CutOutcome.Completed or CutOutcome.Trim) => cut.CutStartedAt is null ? double.NaN : job.Section.AreaCm2,
        (_, CutOutcome.UnobservedStart) => job.Section.AreaCm2,
        _ => double.IsNaN(cut.DepthMm) ? double.NaN : job.Section.AreaBetweenCm2(0, cut.DepthMm),
    };

    private static double StandardSecondsOf(Cut cut, StandardTime? standard) => (standard, cut.Outcome) switch
    {
        (null, _) => double.NaN,
        (_, CutOutcome.Partial) => double.IsNaN(cut.DepthMm) ? double.NaN : standard.Curve.TimeToDepthS(cut.DepthMm),
        _ => standard.CutSeconds,
    };

    private static string BasisOf(Cut cut, StandardTime? standard)
    {
        var measured = cut.Basis.Length > 0 ? cut.Basis : "none";
        var expectation = standard?.Basis switch
        {
            StandardBasis.Catalogue => "catalogue",
            StandardBasis.PlantTime => "plant time",
            StandardBasis.PlantRate => "plant rate",
            _ => "none",
        };
        return $"cut: {measured}; standard: {expectation}";
    }

    // The account of a blade's area is closed for good by the first cut of unknown area.
    private double? AddToBlade(Cut cut, double area)
    {
        var unknown = double.IsNaN(area) && (cut.CutStartedAt is not null || cut.CutEndedAt is not null);
        _shelf.Add(unknown ? null : double.IsNaN(area) ? 0 : area, _scorer.LastWear, _settings.DullRise, cut.EndedAt);
        return _shelf.Current!.AreaCm2;
    }
}
