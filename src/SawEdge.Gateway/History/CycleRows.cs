using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.History;

/// <summary>Cycle records to and from rows of <c>cycles</c>, in the columns and the order of <see cref="CycleColumns"/>.</summary>
internal static class CycleRows
{
    /// <summary>The columns of a record, in order, for a SELECT on <c>cycles AS c</c>.</summary>
    public static readonly string Select = string.Join(", ", CycleColumns.All.Select(column => "c." + column.Name));

    /// <summary>
    /// Stores a record and gives its row's id back; gives nothing back where the very same record is stored already.
    /// A record with a known cycle_id and other content replaces that row's content.
    /// </summary>
    public static readonly string Upsert = BuildUpsert();

    /// <summary>Adds the parameters of <see cref="Upsert"/> to a command.</summary>
    public static SqliteParameter[] AddParameters(SqliteCommand command) =>
        [.. CycleColumns.All.Select(column => command.Parameters.Add("@" + column.Name, column.Type switch
        {
            ColumnType.Number => SqliteType.Real,
            ColumnType.Text => SqliteType.Text,
            _ => SqliteType.Integer,
        }))];

    /// <summary>Sets the parameters of <see cref="Upsert"/>.</summary>
    public static void Bind(SqliteParameter[] parameters, CycleRecord record)
    {
        for (var i = 0; i < parameters.Length; i++)
            parameters[i].Value = ToStored(CycleColumns.All[i].Get(record));
    }

    /// <summary>Reads the record of a row selected with <see cref="Select"/>.</summary>
    /// <param name="row">The row.</param>
    /// <param name="first">Ordinal of the first column of the record.</param>
    public static CycleRecord Read(SqliteDataReader row, int first)
    {
        var cells = new Cells(row, first);
        return new CycleRecord
        {
            CycleId = cells.Text("cycle_id"),
            Saw = cells.Text("saw"),
            StartedAt = cells.Time("started_at") ?? default,
            CutStartedAt = cells.Time("cut_started_at"),
            CutEndedAt = cells.Time("cut_ended_at"),
            EndedAt = cells.Time("ended_at") ?? default,
            Outcome = CutOutcomes.Parse(cells.Text("outcome")),
            Mode = cells.Text("mode"),
            Job = cells.Text("job"),
            Material = cells.Text("material"),
            Section = cells.Text("section"),
            PartLengthMm = cells.Number("part_length_mm"),
            Blade = cells.Text("blade"),
            CutAreaCm2 = cells.Number("cut_area_cm2"),
            CutTimeS = cells.Number("cut_time_s"),
            StandardCutTimeS = cells.Number("standard_cut_time_s"),
            LearnedCutTimeS = cells.Number("learned_cut_time_s"),
            LearnedLowS = cells.Number("learned_low_s"),
            LearnedHighS = cells.Number("learned_high_s"),
            CutTimeRatio = cells.Number("cut_time_ratio"),
            CycleTimeS = cells.Number("cycle_time_s"),
            StandardCycleTimeS = cells.Number("standard_cycle_time_s"),
            CuttingRateCm2Min = cells.Number("cutting_rate_cm2_min"),
            MeanDescentMmMin = cells.Number("mean_descent_mm_min"),
            MeanLoadKw = cells.Number("mean_load_kw"),
            PeakLoadKw = cells.Number("peak_load_kw"),
            IdleLoadKw = cells.Number("idle_load_kw"),
            CuttingEnergyKj = cells.Number("cutting_energy_kj"),
            SpecificEnergyJMm3 = cells.Number("specific_energy_j_mm3"),
            MeanBladeSpeedMMin = cells.Number("mean_blade_speed_m_min"),
            LoadScore = cells.Number("load_score"),
            ScoreLevel = cells.Number("score_level"),
            ScoreShape = cells.Number("score_shape"),
            ScorePace = cells.Number("score_pace"),
            ScoreLoop = cells.Number("score_loop"),
            LikelyCause = cells.Text("likely_cause"),
            BladeAreaM2 = cells.Number("blade_area_m2"),
            PartCount = cells.Integer("part_count"),
            Frames = checked((int)(cells.Integer("frames") ?? 0)),
            Coverage = cells.Number("coverage"),
            Basis = cells.Text("basis"),
            Notes = cells.Text("notes"),
        };
    }

    private static object ToStored(object? value) => value switch
    {
        null => DBNull.Value,
        DateTimeOffset time => time.ToUnixTimeMilliseconds(),
        // What is no number is not known; SQLite would store NaN as NULL anyway, but infinity as a value.
        double number when !double.IsFinite(number) => DBNull.Value,
        string { Length: 0 } => DBNull.Value,
        _ => value,
    };

    private static string BuildUpsert()
    {
        var names = CycleColumns.All.Select(column => column.Name).ToList();
        var others = names.Where(name => name != "cycle_id").ToList();
        return $"""
            INSERT INTO cycles({string.Join(", ", names)})
            VALUES({string.Join(", ", names.Select(name => "@" + name))})
            ON CONFLICT(cycle_id) DO UPDATE SET {string.Join(", ", others.Select(name => $"{name} = excluded.{name}"))}
            WHERE ({string.Join(", ", others.Select(name => "cycles." + name))}) IS NOT ({string.Join(", ", others.Select(name => "excluded." + name))})
            RETURNING id
            """;
    }

    private readonly struct Cells(SqliteDataReader row, int first)
    {
        private static readonly Dictionary<string, int> Ordinals =
            CycleColumns.All.Select((column, index) => (column.Name, index)).ToDictionary(pair => pair.Name, pair => pair.index, StringComparer.Ordinal);

        public string Text(string name) => row.IsDBNull(first + Ordinals[name]) ? "" : row.GetString(first + Ordinals[name]);

        public double? Number(string name) => row.IsDBNull(first + Ordinals[name]) ? null : row.GetDouble(first + Ordinals[name]);

        public long? Integer(string name) => row.IsDBNull(first + Ordinals[name]) ? null : row.GetInt64(first + Ordinals[name]);

        public DateTimeOffset? Time(string name) => row.IsDBNull(first + Ordinals[name]) ? null : DateTimeOffset.FromUnixTimeMilliseconds(row.GetInt64(first + Ordinals[name]));
    }
}
