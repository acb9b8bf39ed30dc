namespace SawEdge.Gateway.History;

/// <summary>Names that cycles carry, besides that of their saw; jobs stand in states as well.</summary>
public enum CycleName
{
    /// <summary>Jobs.</summary>
    Job,

    /// <summary>Materials.</summary>
    Material,

    /// <summary>Blades.</summary>
    Blade,
}

/// <content>Which names there are.</content>
public sealed partial class HistoryReader
{
    /// <summary>Those of some names that nothing carries.</summary>
    /// <param name="kind">Which names.</param>
    /// <param name="names">The names.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<string>> UnknownAsync(CycleName kind, IReadOnlyCollection<string> names, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(
            connection => [.. names.Where(name => Rows(connection, $"SELECT 1 FROM {Table(kind)} WHERE {Column(kind)} = @name LIMIT 1", row => row.GetInt32(0), ("@name", name)).Count == 0)],
            cancellation);

    /// <summary>All names that there are, in order; of a long history this takes a second or more.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<string>> NamesAsync(CycleName kind, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<string>>(
            connection => Rows(connection, $"SELECT DISTINCT {Column(kind)} FROM {Table(kind)} WHERE {Column(kind)} <> '' ORDER BY 1", row => row.GetString(0)),
            cancellation);

    private static string Table(CycleName kind) => kind == CycleName.Job ? "(SELECT job FROM cycles UNION ALL SELECT job FROM states)" : "cycles";

    private static string Column(CycleName kind) => kind switch
    {
        CycleName.Job => "job",
        CycleName.Material => "material",
        _ => "blade",
    };
}
