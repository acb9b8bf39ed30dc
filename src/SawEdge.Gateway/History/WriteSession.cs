using Microsoft.Data.Sqlite;
using SawEdge.Core.Alarms;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.History;

/// <summary>
/// The writer's connection with its prepared commands. Not for two threads at once. After an error of SQLite it is
/// disposed and a new one opened: a connection that has seen the disk fail is not trusted again.
/// </summary>
internal sealed class WriteSession : IDisposable
{
    private readonly SqliteConnection _connection;
    private readonly List<SqliteCommand> _commands = [];
    private readonly SqliteCommand _begin;
    private readonly SqliteCommand _commit;
    private readonly SqliteCommand _rollback;
    private readonly SqliteCommand _upsertCycle;
    private readonly SqliteParameter[] _cycle;
    private readonly SqliteCommand _findCycle;
    private readonly SqliteCommand _upsertProfile;
    private readonly SqliteCommand _deleteProfile;
    private readonly SqliteCommand _upsertEvidence;
    private readonly SqliteCommand _deleteEvidence;
    private readonly SqliteCommand _upsertAssessment;
    private readonly SqliteCommand _deleteAssessment;
    private readonly SqliteCommand _checkpoint;
    private readonly SqliteCommand _thinCheckpoints;
    private readonly SqliteCommand _dropCheckpoints;
    private readonly SqliteCommand _journal;
    private readonly SqliteCommand _state;
    private readonly SqliteCommand _frames;
    private readonly SqliteCommand _deleteFrames;
    private readonly SqliteCommand _cursor;
    private readonly SqliteCommand _refuse;
    private readonly Dictionary<string, SqliteCommand> _dropStale;
    private readonly SqliteCommand _segment;
    private readonly AlarmStatements _alarms;

    /// <summary>Opens the connection and prepares the commands.</summary>
    /// <exception cref="SqliteException">The file cannot be opened.</exception>
    public WriteSession(HistoryDatabase database)
    {
        _connection = database.OpenForWriting();
        try
        {
            // IMMEDIATE takes the write lock at once, so that no transaction fails half way for want of it.
            _begin = Prepare("BEGIN IMMEDIATE");
            _commit = Prepare("COMMIT");
            _rollback = Prepare("ROLLBACK");
            _upsertCycle = Prepare(CycleRows.Upsert);
            _cycle = CycleRows.AddParameters(_upsertCycle);
            _findCycle = Prepare("SELECT id FROM cycles WHERE cycle_id = @cycle_id", "@cycle_id");
            _upsertProfile = Prepare("INSERT INTO profiles(cycle, data) VALUES(@cycle, @data) ON CONFLICT(cycle) DO UPDATE SET data = excluded.data WHERE profiles.data IS NOT excluded.data", "@cycle", "@data");
            _deleteProfile = Prepare("DELETE FROM profiles WHERE cycle = @cycle", "@cycle");
            _upsertEvidence = Prepare("INSERT INTO evidence(cycle, data) VALUES(@cycle, @data) ON CONFLICT(cycle) DO UPDATE SET data = excluded.data WHERE evidence.data IS NOT excluded.data", "@cycle", "@data");
            _deleteEvidence = Prepare("DELETE FROM evidence WHERE cycle = @cycle", "@cycle");
            _upsertAssessment = Prepare("INSERT INTO assessments(cycle, score, accepted, why, data) VALUES(@cycle, @score, @accepted, @why, @data) ON CONFLICT(cycle) DO UPDATE SET score = excluded.score, accepted = excluded.accepted, why = excluded.why, data = excluded.data WHERE assessments.data IS NOT excluded.data", "@cycle", "@score", "@accepted", "@why", "@data");
            _deleteAssessment = Prepare("DELETE FROM assessments WHERE cycle = @cycle", "@cycle");
            _checkpoint = Prepare("INSERT INTO load_checkpoints(saw, at, version, data) VALUES(@saw, @at, @version, @data) ON CONFLICT(saw, at) DO UPDATE SET version = excluded.version, data = excluded.data", "@saw", "@at", "@version", "@data");
            _thinCheckpoints = Prepare(CheckpointThinning.Sql, "@saw");
            _dropCheckpoints = Prepare("DELETE FROM load_checkpoints WHERE saw = @saw AND at > @after", "@saw", "@after");
            _journal = Prepare("INSERT INTO journal(kind, saw, item, at) VALUES(@kind, @saw, @item, @at) RETURNING seq", "@kind", "@saw", "@item", "@at");
            _state = Prepare("INSERT OR REPLACE INTO saw_state(saw, version, data, updated) VALUES(@saw, @version, @data, @updated)", "@saw", "@version", "@data", "@updated");
            _frames = Prepare("INSERT OR REPLACE INTO open_frames(saw, part, data) VALUES(@saw, @part, @data)", "@saw", "@part", "@data");
            _deleteFrames = Prepare("DELETE FROM open_frames WHERE saw = @saw", "@saw");
            _cursor = Prepare("INSERT OR REPLACE INTO cursors(consumer, seq, updated) VALUES(@consumer, @seq, @updated)", "@consumer", "@seq", "@updated");
            _dropStale = Lanes.All.Select(Lanes.TableOf).OfType<string>().ToDictionary(table => table, table => Prepare($"DELETE FROM refused WHERE consumer = @consumer AND NOT EXISTS(SELECT 1 FROM {table} WHERE seq = refused.seq)", "@consumer"), StringComparer.Ordinal);
            _refuse = Prepare("INSERT OR REPLACE INTO refused(consumer, seq, reason, at) VALUES(@consumer, @seq, @reason, @at)", "@consumer", "@seq", "@reason", "@at");
            _segment = Prepare(StateRows.Upsert, "@saw", "@started_at", "@ended_at", "@state", "@reason", "@job");
            _alarms = new AlarmStatements(Prepare);
            Accounts = new AccountStatements(Prepare);
            Samples = new SampleStatements(Prepare);
            Space = new SpaceStatements(Prepare);
            Points = new PointStatements(Prepare);
        }
        catch
        {
            Dispose();
            throw;
        }
    }

    /// <summary>Last sequence number given to a journal entry by this session; 0 before the first.</summary>
    public long LastSequence { get; private set; }

    /// <summary>The commands for what is worked out from other tables.</summary>
    public AccountStatements Accounts { get; }

    /// <summary>The commands for downsampled signals.</summary>
    public SampleStatements Samples { get; }

    /// <summary>The commands for clearing away and giving back.</summary>
    public SpaceStatements Space { get; }

    /// <summary>The commands for what points are made of besides the rows of others.</summary>
    public PointStatements Points { get; }

    /// <summary>Starts a transaction.</summary>
    public void Begin() => _begin.ExecuteNonQuery();

    /// <summary>Ends the transaction; when this returns, what it wrote is on the disk.</summary>
    public void Commit() => _commit.ExecuteNonQuery();

    /// <summary>Undoes the transaction, where one is open.</summary>
    public void Rollback() => _rollback.ExecuteNonQuery();

    /// <summary>Stores a finished cycle with everything that belongs to the same moment.</summary>
    public void Store(EncodedCycle encoded, long now)
    {
        StoreRecord(encoded, now);
        var cycle = encoded.Cycle;
        if (cycle.SawState is { } state)
            StoreState(cycle.Record.Saw, state, now);
        ReplaceFrames(cycle.Record.Saw, cycle.OpenFrames);
    }

    /// <summary>Stores a stretch of what a saw did; one that is shorter than the times that are stored is left out.</summary>
    public void StoreSegment(string saw, StateSegment segment)
    {
        var (from, to) = (StateRows.Milliseconds(segment.From), StateRows.Milliseconds(segment.To));
        if (to > from)
            Run(_segment, saw, from, to, segment.State.ToName(), StateRows.TextOrNull(segment.Reason), StateRows.TextOrNull(segment.Job));
    }

    /// <summary>Stores a cycle with what it was computed from and what the load score says of it, and a checkpoint where there is one.</summary>
    /// <returns>Whether record, profile or assessment are new or differ from what was stored; then it is in the journal.</returns>
    public bool StoreRecord(EncodedCycle encoded, long now)
    {
        var cycle = encoded.Cycle;
        var record = cycle.Record;
        CycleRows.Bind(_cycle, record);
        var id = _upsertCycle.ExecuteScalar();
        var changed = id is long;
        id ??= Scalar(_findCycle, record.CycleId);
        var profileChanges = encoded.Profile is { } profile ? Run(_upsertProfile, id, profile) : Run(_deleteProfile, id);
        if (encoded.Evidence is { } evidence)
            Run(_upsertEvidence, id, evidence);
        else
            Run(_deleteEvidence, id);
        var assessmentChanges = cycle.Assessment is { } a ? Run(_upsertAssessment, id, (object?)a.Score ?? DBNull.Value, a.Accepted, a.Why, encoded.Assessment!) : Run(_deleteAssessment, id);
        if (cycle.Checkpoint is { } checkpoint)
        {
            Run(_checkpoint, record.Saw, checkpoint.At.ToUnixTimeMilliseconds(), checkpoint.State.Version, checkpoint.State.Data.ToArray());
            Run(_thinCheckpoints, record.Saw);
        }

        // The very same cycle again, as after a crash between commit and acknowledgement, leaves no trace.
        changed |= profileChanges > 0 || assessmentChanges > 0;
        if (changed)
            Enter(JournalKinds.Cycle, record.Saw, (long)id, now);
        return changed;
    }

    /// <summary>Forgets the checkpoints of a saw after one of them; null: all of them.</summary>
    /// <returns>False where that one is not there any more; then none is forgotten.</returns>
    public bool DropCheckpoints(string saw, DateTimeOffset? after)
    {
        var from = after?.ToUnixTimeMilliseconds();
        if (from is { } at && !Space.HasCheckpoint(saw, at))
            return false;
        Run(_dropCheckpoints, saw, from ?? long.MinValue);
        return true;
    }

    /// <summary>Stores a saw's state.</summary>
    public void StoreState(string saw, SawState state, long now) => Run(_state, saw, state.Version, state.Data.ToArray(), now);

    /// <summary>Forgets a saw's open frames, and stores others instead where there are any.</summary>
    public void ReplaceFrames(string saw, ReadOnlyMemory<byte>? frames)
    {
        Run(_deleteFrames, saw);
        if (frames is { } next)
            StoreFrames(saw, 0, next);
    }

    /// <summary>Stores one part of a saw's open frames.</summary>
    public void StoreFrames(string saw, int part, ReadOnlyMemory<byte> data) => Run(_frames, saw, part, data.ToArray());

    /// <summary>Moves a consumer's cursor and stores what its server refused.</summary>
    public void StoreCursor(string consumer, long sequence, IReadOnlyList<Refusal> refusals, long now)
    {
        foreach (var refusal in refusals)
            Run(_refuse, consumer, refusal.Sequence, refusal.Reason, now);
        Run(_cursor, consumer, sequence, now);

        // What was told anew since has another number, and what was refused of it before is no more.
        if (Lanes.TableOf(consumer) is { } table)
            Run(_dropStale[table], consumer);
    }

    /// <summary>Stores one step of the alarms.</summary>
    public void StoreAlarms(AlarmBatch batch, long now)
    {
        foreach (var happened in batch.Events)
            Enter(JournalKinds.AlarmEvent, happened.Subject.Name, _alarms.Store(happened), now);
        foreach (var notice in batch.Notices)
            Enter(JournalKinds.Notice, notice.Channel, _alarms.Store(notice), now);
        if (batch.Memory is { } memory)
            _alarms.Store(memory, now);
        foreach (var outcome in batch.Answered)
            _alarms.Close(outcome, now);
    }

    /// <summary>Stores an answer that came by a one-time link.</summary>
    /// <returns>The answer's number; null where the link was used before, and then nothing is stored.</returns>
    public long? UseLink(string nonce, DateTimeOffset validUntil, AlarmAnswer answer, long now) => _alarms.UseLink(nonce, validUntil, answer, now);

    /// <summary>Stores something that seldom comes, with commands of its own.</summary>
    public T Do<T>(Func<SqliteConnection, SqliteTransaction?, T> write) => write(_connection, null);

    /// <inheritdoc/>
    public void Dispose()
    {
        foreach (var command in _commands)
            command.Dispose();
        _connection.Dispose();
    }

    private void Enter(string kind, string saw, long item, long now) => LastSequence = Scalar(_journal, kind, saw, item, now);

    private SqliteCommand Prepare(string sql, params string[] parameters)
    {
        var command = _connection.CreateCommand();
        _commands.Add(command);
        command.CommandText = sql;
        foreach (var name in parameters)
            command.Parameters.Add(new SqliteParameter { ParameterName = name });
        // Statements are compiled at the first use and kept with the command.
        return command;
    }

    /// <summary>Runs a command that gives nothing back.</summary>
    /// <returns>Rows that it changed.</returns>
    internal static int Run(SqliteCommand command, params ReadOnlySpan<object> values)
    {
        Bind(command, values);
        return command.ExecuteNonQuery();
    }

    /// <summary>Runs a command that gives one whole number back.</summary>
    internal static long Scalar(SqliteCommand command, params ReadOnlySpan<object> values)
    {
        Bind(command, values);
        return (long)(command.ExecuteScalar() ?? throw new InvalidOperationException($"No row: {command.CommandText}"));
    }

    /// <summary>Runs a command that gives rows of one whole number each back.</summary>
    internal static List<long> Numbers(SqliteCommand command, params ReadOnlySpan<object> values)
    {
        Bind(command, values);
        var numbers = new List<long>();
        using var row = command.ExecuteReader();
        while (row.Read())
            numbers.Add(row.GetInt64(0));
        return numbers;
    }

    internal static object? Value(SqliteCommand command, params ReadOnlySpan<object> values)
    {
        Bind(command, values);
        return command.ExecuteScalar();
    }

    private static void Bind(SqliteCommand command, ReadOnlySpan<object> values)
    {
        for (var i = 0; i < values.Length; i++)
            command.Parameters[i].Value = values[i];
    }
}
