using System.Runtime.CompilerServices;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.History;

/// <content>Cut times.</content>
public sealed partial class HistoryReader
{
    private const string CutTimeColumns =
        "c.started_at, c.ended_at, c.outcome, c.job, c.material, c.section, c.blade, c.cut_area_cm2, c.cut_time_s, c.standard_cut_time_s, c.mean_blade_speed_m_min, c.load_score, c.blade_area_m2, c.coverage, c.basis, e.data, c.id";

    /// <summary>The cut times of a saw, ordered by the start of their cycles, page by page.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="from">Only cycles that started at this moment or later; null: from the first.</param>
    /// <param name="to">Only cycles that started before this moment; null: to the last.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no evidence of a known version.</exception>
    public async IAsyncEnumerable<StoredCutTime> CutTimesAsync(string saw, DateTimeOffset? from, DateTimeOffset? to, [EnumeratorCancellation] CancellationToken cancellation = default)
    {
        var (start, id) = ((from?.ToUnixTimeMilliseconds() ?? long.MinValue + 1) - 1, long.MaxValue);
        while (true)
        {
            var (afterStart, afterId) = (start, id);
            var page = await AskAsync(
                connection => Rows(
                    connection,
                    $"SELECT {CutTimeColumns} FROM cycles AS c LEFT JOIN evidence AS e ON e.cycle = c.id WHERE c.saw = @saw AND (c.started_at, c.id) > (@start, @id) AND c.started_at < @to ORDER BY c.started_at, c.id LIMIT {Page}",
                    row => (CutTime: ReadCutTime(row), Start: row.GetInt64(0), Id: row.GetInt64(row.FieldCount - 1)),
                    ("@saw", saw),
                    ("@start", afterStart),
                    ("@id", afterId),
                    ("@to", to?.ToUnixTimeMilliseconds() ?? long.MaxValue)),
                cancellation);
            foreach (var (cutTime, _, _) in page)
                yield return cutTime;
            if (page.Count < Page)
                yield break;
            (_, start, id) = page[^1];
        }
    }

    private static StoredCutTime ReadCutTime(SqliteDataReader row)
    {
        var (job, hold) = row.IsDBNull(15) ? (null, 0) : EvidenceCodec.Gist((byte[])row[15]);
        return new StoredCutTime
        {
            StartedAt = Time(row.GetInt64(0)),
            EndedAt = Time(row.GetInt64(1)),
            Outcome = CutOutcomes.Parse(row.GetString(2)),
            Job = Words(row, 3),
            Material = Words(row, 4),
            Section = Words(row, 5),
            Blade = Words(row, 6),
            CutAreaCm2 = Figure(row, 7),
            CutTimeS = Figure(row, 8),
            StandardCutTimeS = Figure(row, 9),
            MeanBladeSpeedMMin = Figure(row, 10),
            LoadScore = Figure(row, 11),
            BladeAreaM2 = Figure(row, 12),
            Coverage = Figure(row, 13),
            Basis = Words(row, 14),
            JobTexts = job,
            HoldSeconds = hold,
        };
    }

    // What is empty is NULL in the file.
    private static string Words(SqliteDataReader row, int column) => row.IsDBNull(column) ? "" : row.GetString(column);

    private static double? Figure(SqliteDataReader row, int column) => row.IsDBNull(column) ? null : row.GetDouble(column);
}
