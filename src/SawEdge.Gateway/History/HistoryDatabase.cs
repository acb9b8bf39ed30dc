using Microsoft.Data.Sqlite;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.History;

/// <summary>
/// The history's file and its one owner. Opening takes the folder, checks the file, brings it to the newest schema;
/// disposing closes it and gives the folder back.
/// </summary>
/// <remarks>
/// <para>Write-ahead log: readers never hold up the writer, nor it them. <c>synchronous=FULL</c>: a commit returns when
/// the log is on the disk, so what was acknowledged survives a loss of power. <c>auto_vacuum=INCREMENTAL</c> can be
/// chosen only before the first table, and lets retention give space back later without rewriting the file.</para>
/// <para>SQLite has one writer at a time. All writing goes through one connection in <see cref="HistoryWriter"/>;
/// readers open their own.</para>
/// <para>A commit whose sync fails lies in the log, whole, and counts as undone; what it had is written again, over it. Were the file opened anew
/// meanwhile by the only one that has it open, SQLite would take that commit from the log (walIndexRecover in wal.c), and alarms would be there twice, or
/// an entry be acknowledged that is not on the disk. So one connection keeps the log's index from the start to the end.</para>
/// </remarks>
public sealed class HistoryDatabase : IDisposable
{
    /// <summary>Name of the file in the data folder.</summary>
    public const string FileName = "history.db";

    // A full check reads the whole file. Up to this size that takes about a second on a slow disk.
    private const long CheckedAtStart = 256L * 1024 * 1024;

    // The log is cut back to this after a burst, instead of keeping its greatest size for ever.
    private const long LogBytesKept = 16L * 1024 * 1024;

    // What a check says of a page that the disk did not give (checkTreePage in btree.c).
    private const string UnreadPage = "unable to get the page";

    private static readonly TimeSpan[] DamagePauses = [TimeSpan.FromSeconds(0.5), TimeSpan.FromSeconds(1), TimeSpan.FromSeconds(2), TimeSpan.FromSeconds(4)];

    private readonly FolderLock _owner;
    private SqliteConnection? _index;

    private HistoryDatabase(string folder, FolderLock owner, DamagedHistory? damage)
    {
        Folder = folder;
        FilePath = Path.Combine(folder, FileName);
        EndedUncleanly = owner.WasLeftBehind;
        Damage = damage;
        _owner = owner;
    }

    /// <summary>The data folder, full path.</summary>
    public string Folder { get; }

    /// <summary>The file, full path.</summary>
    public string FilePath { get; }

    /// <summary>Whether the last owner ended without giving the folder back, as in a loss of power.</summary>
    public bool EndedUncleanly { get; }

    /// <summary>The damaged history that was set aside when this one was begun in its place; null where the file was whole.</summary>
    public DamagedHistory? Damage { get; }

    /// <summary>Opens or creates the history of a data folder.</summary>
    /// <exception cref="HistoryInUseException">Another gateway owns the folder.</exception>
    /// <exception cref="HistoryNewerException">It was written by a newer program.</exception>
    /// <exception cref="HistoryCorruptException">The file is damaged.</exception>
    /// <exception cref="HistoryException">The folder or file cannot be used.</exception>
    public static HistoryDatabase Open(string folder) => Open(folder, setAside: null);

    /// <summary>As <see cref="Open(string)"/>, for a gateway: a damaged history is set aside under a name with the time, and a new one begun (<see cref="Damage"/>), because cutting goes on.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="time">The clock that names it.</param>
    /// <inheritdoc cref="Open(string)"/>
    public static HistoryDatabase OpenOrBegin(string folder, TimeProvider time) => Open(folder, setAside: time);

    private static HistoryDatabase Open(string folder, TimeProvider? setAside)
    {
        var full = Path.GetFullPath(folder);
        if (DataDisk.ShareTrouble(full) is { } share)
            throw new HistoryException($"The data folder cannot be used: {share}.");
        var owner = FolderLock.Take(full);
        try
        {
            AsideFiles.Finish(full);
            try
            {
                return setAside is null ? Prepared(full, owner, null) : PreparedWithPatience(full, owner);
            }
            catch (HistoryCorruptException e) when (setAside is not null)
            {
                var damaged = AsideFiles.Move(full, AsideFiles.Damaged, setAside.GetUtcNow());
                AsideFiles.Trust(full);
                return Prepared(full, owner, new DamagedHistory(damaged, e.Finding));
            }
        }
        catch
        {
            owner.Dispose();
            throw;
        }
    }

    // A good history must not be set aside because the disk answered with an error for a moment, which SQLite calls damage as well.
    private static HistoryDatabase PreparedWithPatience(string folder, FolderLock owner)
    {
        foreach (var pause in DamagePauses)
        {
            try
            {
                return Prepared(folder, owner, null);
            }
            catch (HistoryCorruptException e) when (e.InnerException is SqliteException { SqliteErrorCode: 11 } || e.Finding.Contains(UnreadPage, StringComparison.Ordinal))
            {
                Thread.Sleep(pause);
            }
        }

        return Prepared(folder, owner, null);
    }

    private static HistoryDatabase Prepared(string folder, FolderLock owner, DamagedHistory? damage)
    {
        var log = new FileInfo(Path.Combine(folder, FileName + "-wal"));
        var database = new HistoryDatabase(folder, owner, damage);
        database.Prepare(check: owner.WasLeftBehind || (log.Exists && log.Length > 0), AsideFiles.IsDistrusted(folder));
        AsideFiles.Trust(folder);
        return database;
    }

    /// <summary>Gives the folder back. Writers and readers must have ended.</summary>
    public void Dispose()
    {
        ReleasePool(FilePath);
        _index?.Dispose();
        TakeLogIn();
        _owner.Dispose();
    }

    /// <summary>Connection string of readers; they cannot write and reuse connections.</summary>
    internal static string ReaderString(string path) => new SqliteConnectionStringBuilder
    {
        DataSource = path,
        Mode = SqliteOpenMode.ReadOnly,
        Pooling = true,
        DefaultTimeout = 10,
    }.ToString();

    /// <summary>Closes the readers' idle connections to a file.</summary>
    internal static void ReleasePool(string path)
    {
        using var connection = new SqliteConnection(ReaderString(path));
        SqliteConnection.ClearPool(connection);
    }

    /// <summary>Opens the writer's connection. Never pooled: after trouble with the disk it must be a new one.</summary>
    /// <exception cref="SqliteException">It cannot be opened.</exception>
    internal SqliteConnection OpenForWriting(bool create = false)
    {
        var connection = new SqliteConnection(new SqliteConnectionStringBuilder
        {
            DataSource = FilePath,
            Mode = create ? SqliteOpenMode.ReadWriteCreate : SqliteOpenMode.ReadWrite,
            ForeignKeys = true,
            Pooling = false,
            // Seconds to wait for a lock of another program; after that the writer says so and goes on trying.
            DefaultTimeout = 1,
        }.ToString());
        try
        {
            connection.Open();
            HistorySchema.Execute(connection, null, "PRAGMA auto_vacuum = INCREMENTAL");
            var mode = HistorySchema.Text(connection, "PRAGMA journal_mode = WAL");
            if (mode != "wal")
                throw new HistoryException($"The file system of '{Folder}' does not carry a write-ahead log (SQLite offers '{mode}'). Use a local disk as data folder, not a network share.");
            HistorySchema.Execute(connection, null, $"PRAGMA synchronous = FULL; PRAGMA temp_store = MEMORY; PRAGMA journal_size_limit = {LogBytesKept};");
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }

    // It has the index once it has read something; it holds nobody up.
    private SqliteConnection KeepIndex()
    {
        var connection = new SqliteConnection(new SqliteConnectionStringBuilder { DataSource = FilePath, Mode = SqliteOpenMode.ReadOnly, Pooling = false }.ToString());
        try
        {
            connection.Open();
            HistorySchema.Text(connection, "PRAGMA schema_version");
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }

    // Whoever closes the file last takes its log in, and a reader, which cannot write, would leave it lying there.
    private void TakeLogIn()
    {
        try
        {
            OpenForWriting().Dispose();
        }
        catch (Exception e) when (e is SqliteException or HistoryException)
        {
            // The disk refuses, which the writer has said already. Nothing is lost: the next start takes the log in.
        }
    }

    private void Prepare(bool check, bool distrusted)
    {
        try
        {
            MakeReady(check, distrusted);
            _index = KeepIndex();
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
        {
            throw new HistoryCorruptException(FilePath, e.Message, e);
        }
        catch (SqliteException e)
        {
            throw new HistoryException($"The history '{FilePath}' cannot be opened: {SqliteTrouble.Describe(e)}.", e);
        }
    }

    // A history in which damage was met is looked through whole, however large it is.
    private void MakeReady(bool check, bool distrusted)
    {
        using var connection = OpenForWriting(create: true);
        HistorySchema.Migrate(connection, FilePath);
        if (!distrusted && (!check || new FileInfo(FilePath).Length > CheckedAtStart))
            return;
        var finding = HistorySchema.Text(connection, distrusted ? "PRAGMA integrity_check(1)" : "PRAGMA quick_check(1)");
        if (finding != "ok")
            throw new HistoryCorruptException(FilePath, finding);
    }
}
