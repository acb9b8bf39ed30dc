using Microsoft.Data.Sqlite;

namespace SawEdge.Gateway.History;

/// <summary>
/// The tables and how they came to be: ordered migrations, the number of those applied kept in <c>user_version</c>.
/// A published migration is never edited; a new column of the cycle record is a new migration.
/// </summary>
/// <remarks>
/// Times are INTEGER milliseconds since 1970 UTC, what is not known is NULL, and tables are STRICT, so that no tool
/// can slip a text into a number. <c>cycles.id</c> never changes: a correction updates the row, and journal and
/// profile go on pointing to it.
/// </remarks>
internal static class HistorySchema
{
    /// <summary>Marks the file as a history of this program: "SawE".</summary>
    public const int ApplicationId = 0x53617745;

    private static readonly string[] Migrations =
    [
        """
        CREATE TABLE cycles(
            id INTEGER PRIMARY KEY,
            cycle_id TEXT NOT NULL UNIQUE,
            saw TEXT NOT NULL,
            started_at INTEGER NOT NULL,
            cut_started_at INTEGER,
            cut_ended_at INTEGER,
            ended_at INTEGER NOT NULL,
            outcome TEXT NOT NULL,
            mode TEXT,
            job TEXT,
            material TEXT,
            section TEXT,
            part_length_mm REAL,
            blade TEXT,
            cut_area_cm2 REAL,
            cut_time_s REAL,
            standard_cut_time_s REAL,
            learned_cut_time_s REAL,
            learned_low_s REAL,
            learned_high_s REAL,
            cut_time_ratio REAL,
            cycle_time_s REAL,
            standard_cycle_time_s REAL,
            cutting_rate_cm2_min REAL,
            mean_descent_mm_min REAL,
            mean_load_kw REAL,
            peak_load_kw REAL,
            idle_load_kw REAL,
            cutting_energy_kj REAL,
            specific_energy_j_mm3 REAL,
            mean_blade_speed_m_min REAL,
            load_score REAL,
            score_level REAL,
            score_shape REAL,
            score_pace REAL,
            score_loop REAL,
            likely_cause TEXT,
            blade_area_m2 REAL,
            part_count INTEGER,
            frames INTEGER NOT NULL,
            coverage REAL,
            basis TEXT,
            notes TEXT
        ) STRICT;
        CREATE INDEX cycles_by_time ON cycles(started_at, saw);
        CREATE INDEX cycles_by_saw ON cycles(saw, started_at);

        CREATE TABLE profiles(
            cycle INTEGER PRIMARY KEY REFERENCES cycles(id) ON DELETE CASCADE,
            data BLOB NOT NULL
        ) STRICT;

        -- AUTOINCREMENT: a sequence number is never given twice, even after the oldest rows were cleared away, because
        -- every consumer remembers where it is by that number alone.
        CREATE TABLE journal(
            seq INTEGER PRIMARY KEY AUTOINCREMENT,
            kind TEXT NOT NULL,
            saw TEXT NOT NULL,
            item INTEGER NOT NULL,
            at INTEGER NOT NULL
        ) STRICT;

        CREATE TABLE cursors(
            consumer TEXT PRIMARY KEY,
            seq INTEGER NOT NULL,
            updated INTEGER NOT NULL
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE refused(
            consumer TEXT NOT NULL,
            seq INTEGER NOT NULL,
            reason TEXT NOT NULL,
            at INTEGER NOT NULL,
            PRIMARY KEY(consumer, seq)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE saw_state(
            saw TEXT PRIMARY KEY,
            version INTEGER NOT NULL,
            data BLOB NOT NULL,
            updated INTEGER NOT NULL
        ) STRICT;

        CREATE TABLE open_frames(
            saw TEXT NOT NULL,
            part INTEGER NOT NULL,
            data BLOB NOT NULL,
            PRIMARY KEY(saw, part)
        ) STRICT;
        """,
        """
        -- What a record was computed from, so that it can be computed anew; the profile is stored already.
        CREATE TABLE evidence(
            cycle INTEGER PRIMARY KEY REFERENCES cycles(id) ON DELETE CASCADE,
            data BLOB NOT NULL
        ) STRICT;

        CREATE TABLE assessments(
            cycle INTEGER PRIMARY KEY REFERENCES cycles(id) ON DELETE CASCADE,
            score REAL,
            accepted INTEGER NOT NULL,
            why TEXT NOT NULL,
            data BLOB NOT NULL
        ) STRICT;

        -- What people said. A correction withdraws a row, and says so in a row of its own: the greatest id shows whether
        -- anything is new, and nothing is ever deleted.
        CREATE TABLE blade_entries(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            saw TEXT NOT NULL,
            at INTEGER NOT NULL,
            kind TEXT NOT NULL,
            blade TEXT NOT NULL,
            note TEXT NOT NULL,
            entered INTEGER NOT NULL,
            withdrawn INTEGER
        ) STRICT;
        CREATE INDEX blade_entries_by_saw ON blade_entries(saw, id);

        -- What a saw had learned from the cycles that started up to this moment.
        CREATE TABLE load_checkpoints(
            id INTEGER PRIMARY KEY,
            saw TEXT NOT NULL,
            at INTEGER NOT NULL,
            version INTEGER NOT NULL,
            data BLOB NOT NULL,
            UNIQUE(saw, at)
        ) STRICT;
        """,
        """
        -- One row an occurrence, as it is now.
        CREATE TABLE alarms(
            number INTEGER PRIMARY KEY,
            rule TEXT NOT NULL,
            subject_kind TEXT NOT NULL,
            subject TEXT NOT NULL,
            severity TEXT NOT NULL,
            raised_at INTEGER NOT NULL,
            state TEXT NOT NULL,
            active INTEGER NOT NULL,
            closed INTEGER NOT NULL,
            value REAL,
            limit_value REAL,
            unit TEXT,
            text TEXT NOT NULL,
            cause TEXT,
            may_be TEXT,
            caution TEXT,
            cycle_id TEXT,
            cleared_at INTEGER,
            acknowledged_at INTEGER,
            acknowledged_by TEXT,
            shelved_until INTEGER,
            chattering INTEGER NOT NULL,
            activations INTEGER NOT NULL,
            verdict TEXT
        ) STRICT;
        CREATE INDEX alarms_by_time ON alarms(raised_at);
        CREATE INDEX alarms_open ON alarms(raised_at) WHERE closed = 0;

        -- What happened, in the order in which it was stored; nothing is ever changed or deleted. alarm: the occurrence right
        -- after it as JSON, NULL where there is none.
        CREATE TABLE alarm_events(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            at INTEGER NOT NULL,
            kind TEXT NOT NULL,
            rule TEXT NOT NULL,
            subject_kind TEXT NOT NULL,
            subject TEXT NOT NULL,
            number INTEGER,
            before TEXT NOT NULL,
            after TEXT NOT NULL,
            who TEXT,
            note TEXT,
            alarm TEXT
        ) STRICT;
        CREATE INDEX alarm_events_by_time ON alarm_events(at);
        CREATE INDEX alarm_events_by_alarm ON alarm_events(number);

        -- What people said from outside of the gateway's process. done is NULL until the gateway has dealt with it; problem says
        -- why it did not do it.
        CREATE TABLE alarm_answers(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            at INTEGER NOT NULL,
            via TEXT NOT NULL,
            action TEXT NOT NULL,
            number INTEGER,
            rule TEXT,
            subject_kind TEXT,
            subject TEXT,
            who TEXT NOT NULL,
            note TEXT,
            until INTEGER,
            done INTEGER,
            problem TEXT
        ) STRICT;
        CREATE INDEX alarm_answers_open ON alarm_answers(id) WHERE done IS NULL;

        -- Messages that are to go out; alarms: their numbers as a JSON array.
        CREATE TABLE notices(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            at INTEGER NOT NULL,
            kind TEXT NOT NULL,
            contact TEXT NOT NULL,
            channel TEXT NOT NULL,
            alarms TEXT NOT NULL
        ) STRICT;

        CREATE TABLE alarm_memory(
            id INTEGER PRIMARY KEY CHECK(id = 1),
            board TEXT NOT NULL,
            plan TEXT NOT NULL,
            updated INTEGER NOT NULL
        ) STRICT;

        -- One-time links that were used.
        CREATE TABLE used_links(
            nonce TEXT PRIMARY KEY,
            used INTEGER NOT NULL,
            valid_until INTEGER NOT NULL
        ) STRICT, WITHOUT ROWID;
        """,
        """
        -- What each saw did. A segment that lasts is stored as far as it was seen, and the same row is made longer later.
        CREATE TABLE states(
            saw TEXT NOT NULL,
            started_at INTEGER NOT NULL,
            ended_at INTEGER NOT NULL,
            state TEXT NOT NULL,
            reason TEXT,
            job TEXT,
            PRIMARY KEY(saw, started_at)
        ) STRICT, WITHOUT ROWID;
        """,
        """
        -- Why a saw stood, as people said; of entries for the same time the last holds. A withdrawn row stays.
        CREATE TABLE stop_reasons(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            saw TEXT NOT NULL,
            from_at INTEGER NOT NULL,
            to_at INTEGER NOT NULL,
            reason TEXT NOT NULL,
            class TEXT NOT NULL,
            who TEXT NOT NULL,
            entered INTEGER NOT NULL,
            withdrawn INTEGER,
            withdrawn_by TEXT
        ) STRICT;
        CREATE INDEX stop_reasons_by_saw ON stop_reasons(saw, from_at);

        -- Parts that are not good. cycle_id: the cut, NULL where only their number is known. A withdrawn row stays.
        CREATE TABLE scrap(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            saw TEXT NOT NULL,
            at INTEGER NOT NULL,
            cycle_id TEXT,
            quantity INTEGER NOT NULL,
            job TEXT,
            reason TEXT,
            who TEXT NOT NULL,
            entered INTEGER NOT NULL,
            withdrawn INTEGER,
            withdrawn_by TEXT
        ) STRICT;
        CREATE INDEX scrap_by_saw ON scrap(saw, at);
        CREATE UNIQUE INDEX scrap_by_cycle ON scrap(cycle_id) WHERE cycle_id IS NOT NULL AND withdrawn IS NULL;

        -- Who may use the API. Only the hash (SHA-256) of a token is kept.
        CREATE TABLE api_tokens(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            name TEXT NOT NULL,
            role TEXT NOT NULL,
            hash BLOB NOT NULL UNIQUE,
            made INTEGER NOT NULL,
            expires INTEGER,
            revoked INTEGER
        ) STRICT;
        CREATE UNIQUE INDEX api_tokens_by_name ON api_tokens(name) WHERE revoked IS NULL;

        -- Who changed what, when, and from where. Never changed or deleted.
        CREATE TABLE audit(
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            at INTEGER NOT NULL,
            who TEXT NOT NULL,
            origin TEXT NOT NULL,
            action TEXT NOT NULL,
            subject TEXT NOT NULL,
            detail TEXT NOT NULL
        ) STRICT;
        CREATE INDEX audit_by_time ON audit(at);

        -- People look for the cuts of one job, over however long a time.
        CREATE INDEX cycles_by_job ON cycles(job, started_at);
        """,
        AccountSchema.Sql,
        SampleSchema.Sql,
        PointSchema.Sql,
    ];

    /// <summary>The newest schema version that this program knows.</summary>
    public static int Version => Migrations.Length;

    /// <summary>Brings a file to the newest version, one transaction a migration.</summary>
    /// <exception cref="HistoryNewerException">It was written by a newer program.</exception>
    /// <exception cref="HistoryForeignException">It is a database of something else.</exception>
    public static void Migrate(SqliteConnection connection, string path)
    {
        var version = Check(connection, path);
        for (; version < Migrations.Length; version++)
        {
            using var transaction = connection.BeginTransaction();
            // Pragmas take no parameters; both numbers are our own.
            Execute(connection, transaction, Migrations[version]);
            Execute(connection, transaction, $"PRAGMA user_version = {version + 1}; PRAGMA application_id = {ApplicationId};");
            transaction.Commit();
        }
    }

    /// <summary>Checks that a file is a history of a known version.</summary>
    /// <returns>Its version; 0 for an empty file.</returns>
    /// <exception cref="HistoryNewerException">It was written by a newer program.</exception>
    /// <exception cref="HistoryForeignException">It is a database of something else.</exception>
    public static int Check(SqliteConnection connection, string path)
    {
        var version = (int)Number(connection, "PRAGMA user_version");
        var application = (int)Number(connection, "PRAGMA application_id");
        var tables = Number(connection, "SELECT count(*) FROM sqlite_schema");
        if (tables > 0 && application != ApplicationId)
            throw new HistoryForeignException(path);
        if (version > Migrations.Length)
            throw new HistoryNewerException(path, version, Migrations.Length);
        return version;
    }

    /// <summary>Checks that a file is a history of exactly this program's version, for those who may not bring it there.</summary>
    /// <exception cref="HistoryException">It is older, newer, or something else.</exception>
    public static void RequireCurrent(SqliteConnection connection, string path)
    {
        if (Check(connection, path) < Version)
            throw new HistoryException($"The history '{path}' was written by an older version of this program. Let the gateway of this version run on it once, which brings it up to date, and ask again.");
    }

    /// <summary>Runs SQL of ours that gives nothing back.</summary>
    public static void Execute(SqliteConnection connection, SqliteTransaction? transaction, string sql)
    {
        using var command = connection.CreateCommand();
        command.Transaction = transaction;
        command.CommandText = sql;
        command.ExecuteNonQuery();
    }

    /// <summary>Runs SQL of ours that gives one number back.</summary>
    public static long Number(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        return Convert.ToInt64(command.ExecuteScalar(), System.Globalization.CultureInfo.InvariantCulture);
    }

    /// <summary>Runs SQL of ours that gives one text back.</summary>
    public static string Text(SqliteConnection connection, string sql)
    {
        using var command = connection.CreateCommand();
        command.CommandText = sql;
        return Convert.ToString(command.ExecuteScalar(), System.Globalization.CultureInfo.InvariantCulture) ?? "";
    }
}
