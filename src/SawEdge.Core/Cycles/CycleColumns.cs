using SawEdge.Core.Cycles;

namespace SawEdge.Core;

/// <summary>How a column's values are typed.</summary>
public enum ColumnType : byte
{
    /// <summary>Text; never null, may be empty.</summary>
    Text,

    /// <summary>A moment, UTC, to the millisecond.</summary>
    Time,

    /// <summary>A double.</summary>
    Number,

    /// <summary>A whole number.</summary>
    Integer,

    /// <summary>True or false.</summary>
    Flag,
}

/// <summary>One column of the cycle history: the single place that names it, types it and says what it means.</summary>
/// <param name="Name">Name outside the process, snake case.</param>
/// <param name="Type">Type of the values.</param>
/// <param name="Unit">Unit, empty where there is none.</param>
/// <param name="Meaning">What it is.</param>
/// <param name="EmptyWhen">When it is not known, as the end of a sentence: <c>never</c>, or <c>where ...</c>.</param>
/// <param name="Get">Reads it: a string, a <see cref="DateTimeOffset"/>, a double, a long, or null where it is not known.</param>
public sealed record CycleColumn(string Name, ColumnType Type, string Unit, string Meaning, string EmptyWhen, Func<CycleRecord, object?> Get);

/// <summary>The columns of a cycle record in the order of the data contract.</summary>
public static class CycleColumns
{
    /// <summary>All columns, in order.</summary>
    public static IReadOnlyList<CycleColumn> All { get; } =
    [
        Text("cycle_id", "stable identity of the cycle", "never", r => r.CycleId),
        Text("saw", "name of the saw", "never", r => r.Saw),
        Time("started_at", "start of the cycle", "never", r => r.StartedAt),
        Time("cut_started_at", "first contact of blade and stock", "where the first contact was not seen", r => r.CutStartedAt),
        Time("cut_ended_at", "breakthrough, or the moment the cut was left", "where the end of the cut was not seen", r => r.CutEndedAt),
        Time("ended_at", "end of the cycle", "never", r => r.EndedAt),
        Text("outcome", "completed, trim, partial, aborted, interrupted, unobserved_start or unobserved_end", "never", r => r.Outcome.ToName()),
        Text("mode", "mode of operation at the controller", "where the controller does not tell it", r => r.Mode),
        Text("job", "the job's identifier at the controller", "where the controller tells none", r => r.Job),
        Text("material", "material of the job", "where the job is not in the job list", r => r.Material),
        Text("section", "section of the job in short notation", "where the job is not in the job list", r => r.Section),
        Number("part_length_mm", "mm", "part length", "where the job is not in the job list, or its row states no length", r => r.PartLengthMm),
        Text("blade", "identity of the blade", "where neither the controller nor a person nor the configuration names it", r => r.Blade),
        Number("cut_area_cm2", "cm2", "area of cut", "where the job is not in the job list, the contact was not seen, or the cut stopped short at an unknown depth", r => r.CutAreaCm2),
        Number("cut_time_s", "s", "contact to breakthrough, feed holds included", "where the contact or the end of the cut was not seen", r => r.CutTimeS),
        Number("standard_cut_time_s", "s", "standard cut time of the catalogue or the plant", "where the job is not in the job list, or the depth of a partial cut is not known", r => r.StandardCutTimeS),
        Number("learned_cut_time_s", "s", "cut time learned from this saw's own cuts of this kind", "where the outcome is neither completed nor trim, or the job has no standard of the catalogue and this saw had not cut it before", r => r.LearnedCutTimeS),
        Number("learned_low_s", "s", "lower end of the learned time's prediction interval", "where learned_cut_time_s is", r => r.LearnedLowS),
        Number("learned_high_s", "s", "upper end of the learned time's prediction interval", "where learned_cut_time_s is", r => r.LearnedHighS),
        Number("cut_time_ratio", "", "cut_time_s / standard_cut_time_s", "where cut_time_s or standard_cut_time_s is, and unless the outcome is completed, trim or partial", r => r.CutTimeRatio),
        Number("cycle_time_s", "s", "start to end of the cycle", "never", r => r.CycleTimeS),
        Number("standard_cycle_time_s", "s", "standard cut time and handling", "where the job is not in the job list", r => r.StandardCycleTimeS),
        Number("cutting_rate_cm2_min", "cm2/min", "area of cut / cut time", "where cut_area_cm2 or cut_time_s is", r => r.CuttingRateCm2Min),
        Number("mean_descent_mm_min", "mm/min", "depth of cut / cut time", "where cut_time_s is, or the head position is not known", r => r.MeanDescentMmMin),
        Number("mean_load_kw", "kW", "mean motor load in the cut", "where no load was read in the cut", r => r.MeanLoadKw),
        Number("peak_load_kw", "kW", "greatest motor load in the cut", "where no load was read in the cut", r => r.PeakLoadKw),
        Number("idle_load_kw", "kW", "motor load with the blade running in air", "where no load was read with the blade running in air", r => r.IdleLoadKw),
        Number("cutting_energy_kj", "kJ", "net energy of the cut", "where the load, the idle load or an end of the cut is not known, or less than 0.8 of the frames due were seen", r => r.CuttingEnergyKj),
        Number("specific_energy_j_mm3", "J/mm3", "net energy per volume removed", "where cutting_energy_kj or cut_area_cm2 is", r => r.SpecificEnergyJMm3),
        Number("mean_blade_speed_m_min", "m/min", "mean blade speed in the cut", "where no blade speed was read that can be believed", r => r.MeanBladeSpeedMMin),
        Number("load_score", "", "-log10 of the share of normal cuts that look this odd", "where nothing could be compared: the cut was not seen whole, its signals are in doubt, or nothing like it was learned yet", r => r.LoadScore),
        Number("score_level", "", "score of the level view", "where its view could not be compared: see load_score", r => r.ScoreLevel),
        Number("score_shape", "", "score of the shape view", "where its view could not be compared: see load_score", r => r.ScoreShape),
        Number("score_pace", "", "score of the pace view", "where its view could not be compared: see load_score", r => r.ScorePace),
        Number("score_loop", "", "score of the blade-loop view", "where its view could not be compared: see load_score, or the frames come too seldom to follow the turns of the blade", r => r.ScoreLoop),
        Text("likely_cause", "likeliest cause, where the score calls for one", "where nothing is unusual, in doubt or was found while the saw ran", r => r.LikelyCause),
        Number("blade_area_m2", "m2", "area cut by this blade since it was installed", "where blade is, or a cut of unknown area was made with it", r => r.BladeAreaM2),
        Integer("part_count", "the controller's raw part counter at the end of the cycle", "where the counter was not read", r => r.PartCount),
        Integer("frames", "frames seen between cut start and end", "never", r => (long)r.Frames),
        Number("coverage", "", "frames seen / frames due between cut start and end", "where the contact or the end of the cut was not seen", r => r.Coverage),
        Text("basis", "what the record was computed from", "never", r => r.Basis),
        Text("notes", "what a reader should know besides", "where there is nothing to say", r => r.Notes),
    ];

    private static CycleColumn Text(string name, string meaning, string emptyWhen, Func<CycleRecord, string> get) => new(name, ColumnType.Text, "", meaning, emptyWhen, get);

    private static CycleColumn Time(string name, string meaning, string emptyWhen, Func<CycleRecord, DateTimeOffset?> get) => new(name, ColumnType.Time, "", meaning, emptyWhen, r => get(r));

    private static CycleColumn Number(string name, string unit, string meaning, string emptyWhen, Func<CycleRecord, double?> get) => new(name, ColumnType.Number, unit, meaning, emptyWhen, r => get(r));

    private static CycleColumn Integer(string name, string meaning, string emptyWhen, Func<CycleRecord, long?> get) => new(name, ColumnType.Integer, "", meaning, emptyWhen, r => get(r));
}
