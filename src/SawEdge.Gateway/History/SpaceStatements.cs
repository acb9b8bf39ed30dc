using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>The writer's commands for clearing away and giving back.</summary>
internal sealed class SpaceStatements(Func<string, string[], SqliteCommand> prepare)
{
    /// <summary>Whether cycle <c>c</c> has anything that can be cleared away.</summary>
    public const string HasDetails =
        "(EXISTS(SELECT 1 FROM evidence WHERE cycle = c.id) OR EXISTS(SELECT 1 FROM profiles WHERE cycle = c.id) OR EXISTS(SELECT 1 FROM assessments WHERE cycle = c.id))";

    private readonly SqliteCommand _isThere = prepare("SELECT EXISTS(SELECT 1 FROM load_checkpoints WHERE saw = @saw AND at = @at)", ["@saw", "@at"]);
    private readonly SqliteCommand _dropEarlier = prepare("DELETE FROM load_checkpoints WHERE saw = @saw AND at < @at", ["@saw", "@at"]);
    private readonly SqliteCommand _find = prepare(
        $"""
        SELECT c.id FROM cycles AS c WHERE c.saw = @saw AND c.started_at BETWEEN @from AND @to
            AND {HasDetails} ORDER BY c.started_at, c.id LIMIT @most
        """,
        ["@saw", "@from", "@to", "@most"]);

    private readonly SqliteCommand _evidence = prepare("DELETE FROM evidence WHERE cycle = @cycle", ["@cycle"]);
    private readonly SqliteCommand _profile = prepare("DELETE FROM profiles WHERE cycle = @cycle", ["@cycle"]);
    private readonly SqliteCommand _assessment = prepare("DELETE FROM assessments WHERE cycle = @cycle", ["@cycle"]);
    private readonly SqliteCommand _free = prepare("PRAGMA freelist_count", []);
    private readonly Func<string, string[], SqliteCommand> _prepare = prepare;
    private (int Pages, SqliteCommand Command)? _giveBack;

    /// <summary>Whether a saw has a checkpoint at a moment, ms since 1970.</summary>
    public bool HasCheckpoint(string saw, long at) => WriteSession.Scalar(_isThere, saw, at) != 0;

    /// <summary>Deletes the details of the oldest cycles of a stretch that have any, and first the checkpoints before its end: none of them can be gone on from any more.</summary>
    /// <returns>How many cycles; 0 where none is left, or where the checkpoint at its end is not there any more because records are being computed anew.</returns>
    public int Clear(DetailBlock block, int most)
    {
        var (from, to) = (block.From.ToUnixTimeMilliseconds(), block.To.ToUnixTimeMilliseconds());
        if (!HasCheckpoint(block.Saw, to))
            return 0;
        WriteSession.Run(_dropEarlier, block.Saw, to);
        var cycles = WriteSession.Numbers(_find, block.Saw, from, to, most);
        foreach (var cycle in cycles)
        {
            WriteSession.Run(_evidence, cycle);
            WriteSession.Run(_profile, cycle);
            WriteSession.Run(_assessment, cycle);
        }

        return cycles.Count;
    }

    /// <summary>Gives free pages back to the disk, those at the end of the file.</summary>
    /// <returns>How many; 0 where none is free or the file cannot.</returns>
    public long GiveBack(int pages)
    {
        var before = WriteSession.Scalar(_free);
        if (_giveBack?.Pages != pages)
            // A pragma takes no parameters; the number is our own. SQLite frees one page a step, so all steps are taken.
            _giveBack = (pages, _prepare(string.Create(System.Globalization.CultureInfo.InvariantCulture, $"PRAGMA incremental_vacuum({pages})"), []));
        using (var row = _giveBack.Value.Command.ExecuteReader())
        {
            while (row.Read())
            {
                // Nothing to read in it.
            }
        }

        return before - WriteSession.Scalar(_free);
    }
}
