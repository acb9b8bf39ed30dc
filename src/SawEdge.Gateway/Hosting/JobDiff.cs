using System.Globalization;
using SawEdge.Core.Cutting;

namespace SawEdge.Gateway.Hosting;

/// <summary>What differs between two job lists, in words.</summary>
internal static class JobDiff
{
    /// <summary>Jobs that are named of each kind at most: lists may have thousands of rows.</summary>
    private const int MostNamed = 10;

    /// <summary>Which jobs were added, changed (with the old and the new value of each column) and removed; empty where none was.</summary>
    /// <param name="before">The list as it was.</param>
    /// <param name="now">The list as it is.</param>
    public static string Of(JobBook before, JobBook now)
    {
        var added = Ordered(now).Where(job => before.Find(job.JobId) is null).Select(job => job.JobId).ToList();
        var removed = Ordered(before).Where(job => now.Find(job.JobId) is null).Select(job => job.JobId).ToList();
        var changed = Ordered(now)
            .Select(job => (job.JobId, Changes: before.Find(job.JobId) is { } old ? Changes(old, job) : ""))
            .Where(job => job.Changes.Length > 0)
            .Select(job => $"{job.JobId} ({job.Changes})")
            .ToList();
        var kinds = new List<string>();
        foreach (var (what, jobs) in ((string, List<string>)[])[("added", added), ("changed", changed), ("removed", removed)])
        {
            if (jobs.Count > 0)
                kinds.Add($"{what} {Named(jobs)}");
        }

        return string.Join("; ", kinds);
    }

    private static IOrderedEnumerable<CutJob> Ordered(JobBook book) => book.Jobs.OrderBy(job => job.JobId, StringComparer.Ordinal);

    private static string Changes(CutJob old, CutJob now)
    {
        var (before, after) = (old.Written ?? new Dictionary<string, string>(), now.Written ?? new Dictionary<string, string>());
        return string.Join(", ", after.Keys.Union(before.Keys)
            .Select(column => (column, Old: before.GetValueOrDefault(column), New: after.GetValueOrDefault(column)))
            .Where(cell => cell.Old != cell.New)
            .Select(cell => $"{cell.column}: {cell.Old ?? "left out"} -> {cell.New ?? "left out"}"));
    }

    private static string Named(List<string> jobs) => jobs.Count <= MostNamed
        ? string.Join(", ", jobs)
        : string.Create(CultureInfo.InvariantCulture, $"{string.Join(", ", jobs.Take(MostNamed))} and {jobs.Count - MostNamed} more");
}
