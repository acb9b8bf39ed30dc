using System.Text.Json;
using Microsoft.Data.Sqlite;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.History;

/// <summary>
/// A filter of cycles as SQL. One index is to lead through the time: that of one job, of one saw, or of all cycles. The plus signs
/// keep SQLite from taking another, by which it would have to sort everything for each page.
/// </summary>
internal static class CycleConditions
{
    /// <summary>Whether only a look at each cycle of the leading index tells if it belongs to a filter.</summary>
    public static bool LooksAtEach(CycleFilter filter) =>
        filter.Ids is not null || filter.Materials is not null || filter.Blades is not null || filter.Outcomes is not null || filter.LeastScore is not null || filter.GreatestScore is not null
        || filter.Jobs is { Count: not 1 } || (filter.Saws is not null && (filter.Saws.Count != 1 || filter.Jobs is not null));

    /// <summary>The whole filter, for <c>cycles AS c</c>; its parameters go into the command.</summary>
    public static string All(CycleFilter filter, SqliteCommand command)
    {
        var parts = Leading(filter, command);
        Add(parts, command, "c.started_at >= @from", "@from", filter.From?.ToUnixTimeMilliseconds());
        Add(parts, command, "c.started_at < @to", "@to", filter.To?.ToUnixTimeMilliseconds());
        Looked(parts, filter, command);
        return string.Join(" AND ", parts);
    }

    /// <summary>What the leading index answers besides the time: nothing, a job or a saw.</summary>
    public static List<string> Leading(CycleFilter filter, SqliteCommand command)
    {
        var parts = new List<string> { "1" };
        if (filter.Jobs is { Count: 1 } jobs)
            Add(parts, command, "c.job = @job", "@job", jobs.First());
        else if (filter.Saws is { Count: 1 } saws)
            Add(parts, command, "c.saw = @saw", "@saw", saws.First());
        return parts;
    }

    /// <summary>What is left of a filter once the leading index and the time are taken care of.</summary>
    public static void Looked(List<string> parts, CycleFilter filter, SqliteCommand command)
    {
        if (filter.Jobs is { Count: not 1 })
            AddAny(parts, command, "job", filter.Jobs);
        if (filter.Saws is not null && (filter.Saws.Count != 1 || filter.Jobs is { Count: 1 }))
            AddAny(parts, command, "saw", filter.Saws);
        AddAny(parts, command, "cycle_id", filter.Ids);
        AddAny(parts, command, "material", filter.Materials);
        AddAny(parts, command, "blade", filter.Blades);
        AddAny(parts, command, "outcome", filter.Outcomes?.Select(outcome => outcome.ToName()).ToList());
        Add(parts, command, "c.load_score >= @least", "@least", filter.LeastScore);
        Add(parts, command, "c.load_score <= @greatest", "@greatest", filter.GreatestScore);
    }

    private static void AddAny(List<string> parts, SqliteCommand command, string column, IReadOnlyCollection<string>? values)
    {
        if (values is null)
            return;
        var one = values.Count == 1;
        parts.Add(one ? $"+c.{column} = @any_{column}" : $"+c.{column} IN (SELECT value FROM json_each(@any_{column}))");
        command.Parameters.AddWithValue($"@any_{column}", one ? values.First() : JsonSerializer.Serialize(values));
    }

    private static void Add(List<string> parts, SqliteCommand command, string part, string name, object? value)
    {
        if (value is null)
            return;
        parts.Add(part);
        command.Parameters.AddWithValue(name, value);
    }
}
