using System.Globalization;
using System.Runtime.CompilerServices;
using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.History;

/// <summary>
/// Questions to the history. Every question has a connection of its own, so any number may be asked at once, also by
/// another process while the gateway writes.
/// </summary>
/// <remarks>
/// Long answers are read page by page, each page a short read transaction: memory stays flat, and the write-ahead log
/// can be cut back while a long export runs. SQLite reads synchronously; that happens on the thread pool.
/// </remarks>
public sealed partial class HistoryReader
{
    private const int Page = 500;

    private static readonly TimeSpan[] ErrorPauses = [TimeSpan.FromSeconds(0.2), TimeSpan.FromSeconds(0.8), TimeSpan.FromSeconds(2), TimeSpan.FromSeconds(4)];

    private readonly string _path;
    private readonly string _connection;

    /// <summary>A reader of an open history.</summary>
    public HistoryReader(HistoryDatabase database)
        : this(database.FilePath)
    {
    }

    private HistoryReader(string path)
    {
        _path = path;
        _connection = HistoryDatabase.ReaderString(path);
    }

    /// <summary>A reader of a data folder that this process does not own, running gateway or not.</summary>
    /// <exception cref="HistoryException">There is no history of this program's version.</exception>
    public static HistoryReader OpenFolder(string folder)
    {
        var path = Path.Combine(Path.GetFullPath(folder), HistoryDatabase.FileName);
        if (!File.Exists(path))
            throw new HistoryException($"There is no history in '{folder}': {HistoryDatabase.FileName} was not found there. Name the data folder of the gateway's configuration.");
        var reader = new HistoryReader(path);
        reader.Ask(connection =>
        {
            HistorySchema.RequireCurrent(connection, path);
            return true;
        });
        return reader;
    }

    /// <summary>A reader of a data folder whose statements look at fewer cycles, for tests.</summary>
    internal static HistoryReader OpenFolder(string folder, int stretch) => new(Path.Combine(Path.GetFullPath(folder), HistoryDatabase.FileName)) { Stretch = stretch };

    /// <summary>A reader of a data folder in which there may be no history yet; only its questions find out.</summary>
    internal static HistoryReader OfFolder(string folder) => new(Path.Combine(Path.GetFullPath(folder), HistoryDatabase.FileName));

    /// <summary>The cycles of a filter, ordered by their start, then by saw.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async IAsyncEnumerable<CycleRecord> CyclesAsync(CycleFilter filter, [EnumeratorCancellation] CancellationToken cancellation = default)
    {
        CyclePlace? last = null;
        do
        {
            (var page, last) = await CyclePageAsync(filter, latestFirst: false, last, Page, cancellation);
            foreach (var cycle in page)
                yield return cycle;
        }
        while (last is not null);
    }

    /// <summary>The number of cycles of a filter.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> CountAsync(CycleFilter filter, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                using var command = connection.CreateCommand();
                command.CommandText = "SELECT count(*) FROM cycles AS c WHERE " + CycleConditions.All(filter, command);
                return (long)command.ExecuteScalar()!;
            },
            cancellation);

    /// <summary>Whether a cycle of that identity is stored.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<bool> HasCycleAsync(string cycleId, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT 1 FROM cycles WHERE cycle_id = @id", row => row.GetInt64(0), ("@id", cycleId)).Count > 0, cancellation);

    /// <summary>One cycle by its identity, or null.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<CycleRecord?> CycleAsync(string cycleId, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(connection, $"SELECT {CycleRows.Select} FROM cycles AS c WHERE c.cycle_id = @id", row => CycleRows.Read(row, 0), ("@id", cycleId)).FirstOrDefault(),
            cancellation);

    /// <summary>The profile of a cycle, or null where it has none.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    /// <exception cref="InvalidDataException">What is stored is no profile of a known version.</exception>
    public Task<DepthProfile?> ProfileAsync(string cycleId, CancellationToken cancellation = default) =>
        AskAsync(
            connection => Rows(connection, "SELECT p.data FROM profiles AS p JOIN cycles AS c ON c.id = p.cycle WHERE c.cycle_id = @id", row => ProfileCodec.Decode((byte[])row[0]), ("@id", cycleId)).FirstOrDefault(),
            cancellation);

    /// <summary>The journal after a sequence number, in order, each entry with its row as it is now.</summary>
    /// <param name="after">The last sequence number already dealt with; 0 for the beginning.</param>
    /// <param name="most">Entries at most.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<IReadOnlyList<JournalEntry>> JournalAsync(long after, int most, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<JournalEntry>>(
            connection => Rows(
                connection,
                $"SELECT j.seq, j.kind, j.saw, j.at, c.id, {CycleRows.Select}, {AlarmRows.SelectEvent}, {AlarmRows.SelectNotice} FROM journal AS j LEFT JOIN cycles AS c ON j.kind = '{JournalKinds.Cycle}' AND c.id = j.item {JoinAlarms} WHERE j.seq > @after ORDER BY j.seq LIMIT @most",
                row => new JournalEntry(row.GetInt64(0), row.GetString(1), row.GetString(2), Time(row.GetInt64(3)), row.IsDBNull(4) ? null : CycleRows.Read(row, 5))
                {
                    AlarmEvent = AlarmRows.ReadEvent(row, 5 + CycleColumns.All.Count),
                    Notice = AlarmRows.ReadNotice(row, 5 + CycleColumns.All.Count + AlarmRows.EventColumns),
                },
                ("@after", after),
                ("@most", most)),
            cancellation);

    /// <summary>The last sequence number of the journal; 0 where it is empty.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> LastSequenceAsync(CancellationToken cancellation = default) =>
        AskAsync(connection => HistorySchema.Number(connection, "SELECT ifnull(max(seq), 0) FROM journal"), cancellation);

    /// <summary>How many entries of the journal lie after a sequence number.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> CountAfterAsync(long sequence, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT count(*) FROM journal WHERE seq > @seq", row => row.GetInt64(0), ("@seq", sequence))[0], cancellation);

    /// <summary>Where a consumer is: the last journal entry it is done with; 0 for a new one.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<long> CursorAsync(string consumer, CancellationToken cancellation = default) =>
        AskAsync(connection => Rows(connection, "SELECT seq FROM cursors WHERE consumer = @consumer", row => row.GetInt64(0), ("@consumer", consumer)).FirstOrDefault(), cancellation);

    /// <summary>What was stored of a saw when its processing last ended.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public Task<SavedSaw> LoadSawAsync(string saw, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                // One transaction: state and frames must be of the same moment.
                using var transaction = connection.BeginTransaction(deferred: true);
                var states = Rows(connection, "SELECT version, data FROM saw_state WHERE saw = @saw", row => new SawState(row.GetInt32(0), (byte[])row[1]), ("@saw", saw));
                var frames = Rows(connection, "SELECT data FROM open_frames WHERE saw = @saw ORDER BY part", row => (byte[])row[0], ("@saw", saw));
                return new SavedSaw(states.Count == 0 ? null : states[0], frames);
            },
            cancellation);

    private static List<T> Rows<T>(SqliteConnection connection, string sql, Func<SqliteDataReader, T> read, params ReadOnlySpan<(string Name, object Value)> parameters)
    {
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        foreach (var (name, value) in parameters)
            command.Parameters.AddWithValue(name, value);
        return Rows(command, read);
    }

    private static List<T> Rows<T>(SqliteCommand command, Func<SqliteDataReader, T> read)
    {
        var rows = new List<T>();
        using var row = command.ExecuteReader();
        while (row.Read())
            rows.Add(read(row));
        return rows;
    }

    private static DateTimeOffset Time(long milliseconds) => DateTimeOffset.FromUnixTimeMilliseconds(milliseconds);

    // A disk that answers with an error may be well again in a moment. SQLite calls a read that failed so damage, too: that is believed when it is still there after a while.
    private async Task<T> AskAsync<T>(Func<SqliteConnection, T> question, CancellationToken cancellation)
    {
        foreach (var pause in ErrorPauses)
        {
            try
            {
                return await Task.Run(() => Ask(question), cancellation);
            }
            catch (HistoryException e) when (e is HistoryCorruptException || e.InnerException is SqliteException { SqliteErrorCode: 10 })
            {
                HistoryDatabase.ReleasePool(_path);
                await Task.Delay(pause, cancellation);
            }
        }

        return await Task.Run(() => Ask(question), cancellation);
    }

    private T Ask<T>(Func<SqliteConnection, T> question)
    {
        try
        {
            using var connection = new SqliteConnection(_connection);
            connection.Open();
            return question(connection);
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
        {
            throw new HistoryCorruptException(_path, e.Message, e);
        }
        catch (SqliteException e)
        {
            throw new HistoryException($"The history '{_path}' cannot be read: {SqliteTrouble.Describe(e)}.", e);
        }
    }
}
