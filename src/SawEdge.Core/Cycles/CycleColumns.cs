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
/// <param name="Get">Reads it: a string, a <see cref="DateTimeOffset"/>, a double, a long, or null where it is not known.</param>
public sealed record CycleColumn(string Name, ColumnType Type, string Unit, string Meaning, Func<CycleRecord, object?> Get);

/// <summary>The columns of a cycle record in the order of the data contract.</summary>
public static class CycleColumns
{
    /// <summary>All columns, in order.</summary>
    public static IReadOnlyList<CycleColumn> All { get; } =
    [
        Text("cycle_id", "stable identity of the cycle", r => r.CycleId),
        Text("saw", "name of the saw", r => r.Saw),
        Time("started_at", "start of the cycle", r => r.StartedAt),
        Time("cut_started_at", "first contact of blade and stock", r => r.CutStartedAt),
        Time("cut_ended_at", "breakthrough, or the moment the cut was left", r => r.CutEndedAt),
        Time("ended_at", "end of the cycle", r => r.EndedAt),
        Text("outcome", "completed, trim, partial, aborted, interrupted, unobserved_start or unobserved_end", r => r.Outcome.ToName()),
        Text("mode", "mode of operation at the controller", r => r.Mode),
        Text("job", "the job's identifier at the controller", r => r.Job),
        Text("material", "material of the job", r => r.Material),
        Text("section", "section of the job in short notation", r => r.Section),
        Number("part_length_mm", "mm", "part length", r => r.PartLengthMm),
        Text("blade", "identity of the blade", r => r.Blade),
        Number("cut_area_cm2", "cm2", "area of cut", r => r.CutAreaCm2),
        Number("cut_time_s", "s", "contact to breakthrough, feed holds included", r => r.CutTimeS),
        Number("standard_cut_time_s", "s", "standard cut time of the catalogue or the plant", r => r.StandardCutTimeS),
        Number("learned_cut_time_s", "s", "cut time learned from this saw's own cuts of this kind", r => r.LearnedCutTimeS),
        Number("learned_low_s", "s", "lower end of the learned time's prediction interval", r => r.LearnedLowS),
        Number("learned_high_s", "s", "upper end of the learned time's prediction interval", r => r.LearnedHighS),
        Number("cut_time_ratio", "", "cut_time_s / standard_cut_time_s", r => r.CutTimeRatio),
        Number("cycle_time_s", "s", "start to end of the cycle", r => r.CycleTimeS),
        Number("standard_cycle_time_s", "s", "standard cut time and handling", r => r.StandardCycleTimeS),
        Number("cutting_rate_cm2_min", "cm2/min", "area of cut / cut time", r => r.CuttingRateCm2Min),
        Number("mean_descent_mm_min", "mm/min", "depth of cut / cut time", r => r.MeanDescentMmMin),
        Number("mean_load_kw", "kW", "mean motor load in the cut", r => r.MeanLoadKw),
        Number("peak_load_kw", "kW", "greatest motor load in the cut", r => r.PeakLoadKw),
        Number("idle_load_kw", "kW", "motor load with the blade running in air", r => r.IdleLoadKw),
        Number("cutting_energy_kj", "kJ", "net energy of the cut", r => r.CuttingEnergyKj),
        Number("specific_energy_j_mm3", "J/mm3", "net energy per volume removed", r => r.SpecificEnergyJMm3),
        Number("mean_blade_speed_m_min", "m/min", "mean blade speed in the cut", r => r.MeanBladeSpeedMMin),
        Number("load_score", "", "-log10 of the share of normal cuts that look this odd", r => r.LoadScore),
        Number("score_level", "", "score of the level view", r => r.ScoreLevel),
        Number("score_shape", "", "score of the shape view", r => r.ScoreShape),
        Number("score_pace", "", "score of the pace view", r => r.ScorePace),
        Number("score_loop", "", "score of the blade-loop view", r => r.ScoreLoop),
        Text("likely_cause", "likeliest cause, where the score calls for one", r => r.LikelyCause),
        Number("blade_area_m2", "m2", "area cut by this blade since it was installed", r => r.BladeAreaM2),
        Integer("part_count", "the controller's raw part counter at the end of the cycle", r => r.PartCount),
        Integer("frames", "frames seen between cut start and end", r => (long)r.Frames),
        Number("coverage", "", "frames seen / frames due between cut start and end", r => r.Coverage),
        Text("basis", "what the record was computed from", r => r.Basis),
        Text("notes", "what a reader should know besides", r => r.Notes),
    ];

    private static CycleColumn Text(string name, string meaning, Func<CycleRecord, string> get) => new(name, ColumnType.Text, "", meaning, get);

    private static CycleColumn Time(string name, string meaning, Func<CycleRecord, DateTimeOffset?> get) => new(name, ColumnType.Time, "", meaning, r => get(r));

    private static CycleColumn Number(string name, string unit, string meaning, Func<CycleRecord, double?> get) => new(name, ColumnType.Number, unit, meaning, r => get(r));

    private static CycleColumn Integer(string name, string meaning, Func<CycleRecord, long?> get) => new(name, ColumnType.Integer, "", meaning, r => get(r));
}
