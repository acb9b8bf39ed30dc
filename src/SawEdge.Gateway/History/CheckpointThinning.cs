using System.Globalization;

namespace SawEdge.Gateway.History;

/// <summary>
/// Keeps the checkpoints of a saw bounded: beyond <see cref="Most"/>, every second one of the older half goes. What is
/// corrected mostly lies days back, so the recent ones stay close together.
/// </summary>
internal static class CheckpointThinning
{
    /// <summary>Checkpoints of a saw at most.</summary>
    public const int Most = 400;

    /// <summary>The statement; its parameter is the saw.</summary>
    public static readonly string Sql = string.Create(
        CultureInfo.InvariantCulture,
        $"""
        DELETE FROM load_checkpoints WHERE id IN (
            SELECT id FROM (
                SELECT id, row_number() OVER (ORDER BY at) AS place, count(*) OVER () AS total FROM load_checkpoints WHERE saw = @saw)
            WHERE total > {Most} AND place <= {Most / 2} AND place % 2 = 0)
        """);
}
