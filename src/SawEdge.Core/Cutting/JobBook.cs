using System.Collections.Frozen;
using SawEdge.Core.Materials;
using SawEdge.Core.Notation;

namespace SawEdge.Core.Cutting;

/// <summary>A row of the job list that was refused.</summary>
/// <param name="Line">Its line, 1-based.</param>
/// <param name="Message">What is wrong and what would be right.</param>
public sealed record JobRowError(int Line, string Message)
{
    /// <summary>Identifier of the job that the row is about; null where it is about none, or more than one.</summary>
    public string? JobId { get; init; }

    /// <inheritdoc/>
    public override string ToString() => $"line {Line}: {Message}";
}

/// <summary>A job list as it was read: the jobs that serve, and the rows that do not.</summary>
/// <param name="Book">The jobs of the good rows.</param>
/// <param name="Errors">The refused rows, in the order of the text.</param>
public sealed record JobBookParse(JobBook Book, IReadOnlyList<JobRowError> Errors);

/// <summary>The jobs by their identifiers at the controller. Immutable: a new list makes a new book.</summary>
public sealed partial class JobBook
{
    private static readonly string[] Required = ["job", "material", "section"];
    private readonly FrozenDictionary<string, CutJob> _jobs;

    /// <summary>A book of jobs whose identifiers differ.</summary>
    public JobBook(IEnumerable<CutJob> jobs) => _jobs = jobs.ToFrozenDictionary(j => j.JobId, StringComparer.Ordinal);

    /// <summary>A book without jobs.</summary>
    public static JobBook Empty { get; } = new([]);

    /// <summary>How many jobs there are.</summary>
    public int Count => _jobs.Count;

    /// <summary>Every job, in no particular order.</summary>
    public IReadOnlyList<CutJob> Jobs => _jobs.Values;

    /// <summary>The same book with some jobs of another for which it has none.</summary>
    /// <param name="other">The other book.</param>
    /// <param name="jobIds">Their identifiers.</param>
    public JobBook With(JobBook other, IEnumerable<string> jobIds)
    {
        List<CutJob> more = [.. jobIds.Distinct(StringComparer.Ordinal).Where(id => !_jobs.ContainsKey(id)).Select(other.Find).OfType<CutJob>()];
        return more.Count == 0 ? this : new JobBook(_jobs.Values.Concat(more));
    }

    /// <summary>The job of an identifier; null where there is none.</summary>
    public CutJob? Find(string jobId) => _jobs.GetValueOrDefault(jobId);

    /// <summary>
    /// Reads a job list: JSON (a list of objects) or CSV with a heading, columns <c>job, material, section</c> and, where wanted, <c>part_length</c> (250 mm),
    /// <c>pieces</c>, <c>blade</c> (bimetal 3/4 tpi), <c>standard</c> (95 s, 1.5 min, 70 cm2/min or 11 in2/min),
    /// <c>hardness</c> (210 HB) and <c>coolant</c> (flood, mist, dry). A broken row is refused with its line; the rest serves.
    /// </summary>
    /// <param name="text">The text of the list.</param>
    /// <param name="catalogue">Where materials are looked up.</param>
    /// <param name="isJson">Whether it is JSON or CSV; null where the text itself shall tell.</param>
    public static JobBookParse Parse(string text, MaterialCatalogue catalogue, bool? isJson = null)
    {
        if (isJson ?? text.AsSpan().TrimStart("\uFEFF \t\r\n") is ['[' or '{', ..])
            return ParseJson(text, catalogue);
        var errors = new List<JobRowError>();
        var table = CsvTable.Read(text);
        var missing = Required.Where(c => !table.Columns.Contains(c, StringComparer.OrdinalIgnoreCase)).ToList();
        if (missing.Count > 0)
        {
            errors.Add(new JobRowError(1, $"the heading lacks {string.Join(", ", missing)}; the columns are {string.Join(", ", JobRow.Columns)}."));
            return new JobBookParse(Empty, errors);
        }

        foreach (var column in table.Columns.Where(c => c.Length > 0 && !JobRow.Columns.Contains(c, StringComparer.OrdinalIgnoreCase)))
            errors.Add(new JobRowError(1, $"column '{column}' is not known and is left out; the columns are {string.Join(", ", JobRow.Columns)}."));

        return Collect(table.Rows, catalogue, errors);
    }

    /// <summary>Reads a single job from the values of its columns, in the notation of the list.</summary>
    /// <param name="values">Columns and values; a column that is left out is not stated.</param>
    /// <param name="catalogue">Where materials are looked up.</param>
    /// <param name="problems">What is wrong and what would be right, a sentence each that names the column; empty where there is a job.</param>
    /// <returns>The job; null where anything is wrong.</returns>
    public static CutJob? ReadJob(IReadOnlyDictionary<string, string> values, MaterialCatalogue catalogue, out IReadOnlyList<string> problems)
    {
        var job = new JobRow(catalogue, []).Read(new CsvRow(1, [.. values.Keys], [.. values.Values.Select(v => v.Trim())]), out problems);
        return job;
    }

    private static JobBookParse Collect(IReadOnlyList<CsvRow> rows, MaterialCatalogue catalogue, List<JobRowError> errors)
    {
        var jobs = new Dictionary<string, (CutJob Job, int Line)>(StringComparer.Ordinal);
        var reader = new JobRow(catalogue, errors);
        foreach (var row in rows)
        {
            if (reader.Read(row) is not { } job)
                continue;
            if (jobs.TryGetValue(job.JobId, out var first))
                errors.Add(new JobRowError(row.Line, $"job '{job.JobId}' is already on line {first.Line}; give each job once."));
            else
                jobs.Add(job.JobId, (job, row.Line));
        }

        return new JobBookParse(new JobBook(jobs.Values.Select(j => j.Job)), errors);
    }
}
