using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Core;

/// <summary>What a saw has learned from its finished cuts: all that a restart needs, and enough to go on from in computing records anew.</summary>
public sealed record RecorderMemory
{
    /// <summary>Cut times learned so far.</summary>
    public LearnedState Learned { get; init; } = new([], []);

    /// <summary>The blades, the latest last.</summary>
    public IReadOnlyList<BladeAccount> Blades { get; init; } = [];
}

/// <summary>
/// Makes records of finished cycles: expectation, figures, blade, load score. The second half of <see cref="SawPipeline"/>, and
/// the whole of it where records are computed anew from stored evidence. Deterministic, no clock; one instance a saw.
/// </summary>
public sealed class CutRecorder
{
    /// <summary>Blades of one saw that are remembered.</summary>
    private const int MostBlades = 32;

    private readonly SawMachine _machine;
    private readonly LoadSettings _settings;
    private readonly string _blade;
    private readonly List<BladeAccount> _blades = [];
    private LearnedTimes _learned = new();

    /// <summary>Builds the recorder of one saw.</summary>
    /// <param name="machine">The saw.</param>
    /// <param name="settings">What a person set about the load score.</param>
    /// <param name="blade">Identity of the blade where neither the controller nor a person says, or null.</param>
    public CutRecorder(SawMachine machine, LoadSettings settings, string? blade = null)
    {
        _machine = machine;
        _settings = settings;
        _blade = blade ?? "";
    }

    /// <summary>What people said about this saw's blades; a new book holds from the next cut on.</summary>
    public BladeBook Entries { get; set; } = BladeBook.Empty;

    /// <summary>The blades as known now, the latest last.</summary>
    public IReadOnlyList<BladeAccount> Blades => _blades;

    /// <summary>
    /// Makes the record of a finished cycle. Gives more than one where this cycle showed that records before it have to be
    /// computed anew (a blade that must have been changed): those come again, with the same identity, oldest first.
    /// </summary>
    public IReadOnlyList<FinishedCut> Take(CutEvidence evidence) => [new FinishedCut(RecordOf(evidence.Cut, evidence.Job), evidence, new LoadAssessment())];

    /// <summary>What must survive a restart.</summary>
    public RecorderMemory Save() => new() { Learned = _learned.Save(), Blades = [.. _blades] };

    /// <summary>Continues from what <see cref="Save"/> gave.</summary>
    /// <param name="memory">What was saved.</param>
    public void Restore(RecorderMemory memory)
    {
        _learned = LearnedTimes.Restore(memory.Learned);
        _blades.Clear();
        _blades.AddRange(memory.Blades);
    }

    private CycleRecord RecordOf(Cut cut, CutJob? job)
    {
        var notes = new List<string>(cut.Notes);
        if (job is null && cut.Job.Length > 0)
            notes.Add($"job '{cut.Job}' is not in the job list");
        var blade = cut.BladeId.Length > 0 ? cut.BladeId : _blade;
        var standard = job is null ? null : CuttingModel.Standard(job, _machine, Positive(cut.MeanBladeSpeedMMin), AreaSinceNew(blade));
        var started = CutFigureRounding.Moment(cut.StartedAt);
        var ended = CutFigureRounding.Moment(cut.EndedAt);
        var cutStarted = cut.CutStartedAt is { } from ? CutFigureRounding.Moment(from) : (DateTimeOffset?)null;
        var cutEnded = cut.CutEndedAt is { } to ? CutFigureRounding.Moment(to) : (DateTimeOffset?)null;
        var cutTime = cutStarted is { } a && cutEnded is { } b ? (b - a).TotalSeconds : double.NaN;
        var area = AreaOf(cut, job);
        var standardSeconds = StandardSecondsOf(cut, standard);
        var full = cut.Outcome is CutOutcome.Completed or CutOutcome.Trim or CutOutcome.Partial;
        var kerf = standard?.Curve.Blade.KerfMm;
        var learned = full && cut.Outcome != CutOutcome.Partial ? ExpectAndLearn(cut, job, standard, cutTime) : null;

        return new CycleRecord
        {
            CycleId = $"{_machine.Name}-{started.UtcDateTime.ToString("yyyyMMdd'T'HHmmssfff'Z'", System.Globalization.CultureInfo.InvariantCulture)}",
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
            BladeAreaM2 = AddToBlade(blade, cut, area) is { } total ? CutFigureRounding.Figure(total / 10_000) : null,
            PartCount = cut.PartCount,
            Frames = cut.Frames,
            Coverage = CutFigureRounding.Figure(cut.Coverage),
            Basis = BasisOf(cut, standard),
            Notes = string.Join("; ", notes),
        };
    }

    private static double? Positive(double value) => value > 0 ? value : null;

    // What such a cut was expected to take before this one was seen; then this one is learned from. A plant's own standard
    // and a catalogue's are not the same measure, so a job with its own is learned by its number, as an unknown one is.
    private LearnedTime? ExpectAndLearn(Cut cut, CutJob? job, StandardTime? standard, double cutTime)
    {
        var whole = cut.HoldSeconds == 0 && cut.Coverage >= CutFigures.LeastCoverage;
        if (job is not null && standard is { Basis: StandardBasis.Catalogue })
        {
            var key = new LearnedKey(_machine.Name, job.Material.Name, job.Section.Family, job.Blade?.TypeName ?? "");
            var expected = _learned.Predict(key, standard.CutSeconds);
            if (whole)
                _learned.Observe(key, cutTime, standard.CutSeconds);
            return expected;
        }

        if (cut.Job.Length == 0)
            return null;
        var usual = _learned.PredictJob(_machine.Name, cut.Job);
        if (whole)
            _learned.ObserveJob(_machine.Name, cut.Job, cutTime);
        return usual;
    }

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

    // What a blade that is being broken in has cut; null for one that was on the saw before it was watched.
    private double? AreaSinceNew(string blade)
    {
        if (blade.Length == 0)
            return null;
        var known = _blades.Find(entry => entry.Blade == blade);
        return known is null ? (_blades.Count > 0 ? 0 : null) : known.SeenNew ? known.AreaCm2 : null;
    }

    // Null where the total is not known; the account of a blade is closed for good by the first cut of unknown area.
    private double? AddToBlade(string blade, Cut cut, double area)
    {
        if (blade.Length == 0)
            return null;
        var index = _blades.FindIndex(known => known.Blade == blade);
        var before = index >= 0 ? _blades[index].AreaCm2 : 0;
        var unknown = double.IsNaN(area) && (cut.CutStartedAt is not null || cut.CutEndedAt is not null);
        var after = unknown ? null : before + (double.IsNaN(area) ? 0 : area);
        var seenNew = index >= 0 ? _blades[index].SeenNew : _blades.Count > 0;
        if (index >= 0)
            _blades.RemoveAt(index);
        else if (_blades.Count == MostBlades)
            _blades.RemoveAt(0);
        _blades.Add(new BladeAccount { Blade = blade, AreaCm2 = after, SeenNew = seenNew });
        return after;
    }
}
