using System.Threading.Channels;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.History;

/// <summary>
/// The one door through which the history is written. Callers wait until what they gave is on the disk; what waits at
/// the same time shares one transaction, so that a slow flash disk is asked to sync once for all of it.
/// </summary>
/// <remarks>
/// A full or read-only disk is said once and tried again until it is mended; callers wait meanwhile, and the queue is
/// bounded, so that memory stays flat. A damaged file ends <see cref="RunAsync"/>: it does not heal by waiting. SQLite calls a read that the disk
/// answered with an error damage, too (unixRead in os_unix.c, SQLITE_IOERR_CORRUPTFS), so damage is believed when it is still there after a while.
/// </remarks>
public sealed partial class HistoryWriter
{
    // A transaction holds at most this many requests, so that the last of a burst does not wait for all of it.
    private const int MostInTransaction = 500;

    private static readonly TimeSpan FirstRetry = TimeSpan.FromMilliseconds(250);
    private static readonly TimeSpan LongestRetry = TimeSpan.FromSeconds(5);

    // Tries after which damage is believed: 0.25 + 0.5 + 1 + 2 + 4 s.
    private const int DamageTries = 6;

    private readonly HistoryDatabase _database;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly Channel<WriteRequest> _queue;
    private readonly WritingTrouble _trouble;
    private WriteSession? _session;
    private long _transactions;

    /// <summary>Prepares a writer; <see cref="RunAsync"/> does the work.</summary>
    /// <param name="database">The history; one writer each.</param>
    /// <param name="time">The clock.</param>
    /// <param name="logger">Where trouble is said.</param>
    /// <param name="capacity">Requests that wait at most before callers wait to be let in.</param>
    public HistoryWriter(HistoryDatabase database, TimeProvider time, ILogger<HistoryWriter> logger, int capacity = 4096)
    {
        _database = database;
        _time = time;
        _logger = logger;
        _trouble = new WritingTrouble(logger, database.Folder, time);
        _queue = Channel.CreateBounded<WriteRequest>(new BoundedChannelOptions(capacity) { SingleReader = true });
    }

    /// <summary>Wakes whoever follows the journal.</summary>
    public JournalSignal Journal { get; } = new();

    /// <summary>Whether the disk refuses at the moment.</summary>
    public bool InTrouble => _trouble.Is;

    /// <summary>Requests that wait to be written.</summary>
    public int Waiting => _queue.Reader.Count;

    /// <summary>Transactions that were tried since the start.</summary>
    public long Transactions => Interlocked.Read(ref _transactions);

    /// <summary>Stores a finished cycle: its record, profile, journal entry, the saw's state, and the end of its open frames, all or nothing.</summary>
    /// <returns>A task that ends when it is on the disk.</returns>
    /// <exception cref="HistoryException">It cannot be stored.</exception>
    /// <exception cref="OperationCanceledException">The caller stopped waiting; it may be stored nevertheless, which does no harm, since the same cycle stored again changes nothing.</exception>
    public Task AppendAsync(FinishedCycle cycle, CancellationToken cancellation) => AppendAsync([cycle], cancellation);

    /// <summary>Stores cycles that finished with the same frame, all or nothing, in their order.</summary>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task AppendAsync(IReadOnlyList<FinishedCycle> cycles, CancellationToken cancellation)
    {
        foreach (var record in cycles.Select(cycle => cycle.Record))
        {
            if (record.CycleId.Length == 0 || record.Saw.Length == 0)
                throw new ArgumentException($"A cycle has an identity and a saw; this one has '{record.CycleId}' and '{record.Saw}'.", nameof(cycles));
        }

        return AppendEncodedAsync(cycles, cancellation);
    }

    /// <summary>Stores a saw's state outside a cycle's end, as at a clean stop, and replaces its open frames.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="state">Its state.</param>
    /// <param name="openFrames">The frames of the cycle that is open, or null where none is.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveStateAsync(string saw, SawState state, ReadOnlyMemory<byte>? openFrames, CancellationToken cancellation) =>
        WriteAsync(
            (session, now) =>
            {
                session.StoreState(saw, state, now);
                session.ReplaceFrames(saw, openFrames);
            },
            cancellation);

    /// <summary>Stores one part of the frames of the cycle that is open, so that a restart can feed them again.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="part">Number of the part, rising from 0; storing a part again replaces it.</param>
    /// <param name="frames">The bytes; must not change until the task ends.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveOpenFramesAsync(string saw, int part, ReadOnlyMemory<byte> frames, CancellationToken cancellation) =>
        WriteAsync((session, _) => session.StoreFrames(saw, part, frames), cancellation);

    /// <summary>Moves a consumer's cursor, and stores what its server refused for good, all or nothing.</summary>
    /// <param name="consumer">Name of the consumer.</param>
    /// <param name="sequence">The last journal entry it is done with.</param>
    /// <param name="refusals">What was refused.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <inheritdoc cref="AppendAsync(FinishedCycle, CancellationToken)"/>
    public Task SaveCursorAsync(string consumer, long sequence, IReadOnlyList<Refusal> refusals, CancellationToken cancellation) =>
        WriteAsync((session, now) => session.StoreCursor(consumer, sequence, refusals, now), cancellation);

    /// <summary>Says that nothing more will come: <see cref="RunAsync"/> writes what waits and ends.</summary>
    public void Complete() => _queue.Writer.TryComplete();

    /// <summary>Writes until <see cref="Complete"/> was called and the queue is empty.</summary>
    /// <param name="cancellation">Ends at once: what waits is tried a last time; whoever waits in vain is told so.</param>
    /// <exception cref="HistoryCorruptException">The file is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        var batch = new List<WriteRequest>(MostInTransaction);
        Exception end = new HistoryException("The history was closed before this could be stored.");
        try
        {
            while (await _queue.Reader.WaitToReadAsync(cancellation))
            {
                while (batch.Count < MostInTransaction && _queue.Reader.TryRead(out var request))
                    batch.Add(request);
                await StoreAsync(batch, cancellation);
                batch.Clear();
            }
        }
        catch (OperationCanceledException)
        {
            StoreLast(batch);
            throw;
        }
        catch (Exception e)
        {
            end = e;
            throw;
        }
        finally
        {
            Drain(batch);
            foreach (var request in batch)
                request.Fail(end);
            _session?.Dispose();
            _session = null;
        }
    }

    /// <summary>The last thing before giving up: what waits is tried once more, without waiting for anything to be mended.</summary>
    private void StoreLast(List<WriteRequest> batch)
    {
        Drain(batch);
        try
        {
            StoreOrSingleOut(batch);
        }
        catch (SqliteException e)
        {
            _trouble.Failed(SqliteTrouble.Describe(e));
        }
    }

    private void Drain(List<WriteRequest> batch)
    {
        _queue.Writer.TryComplete();
        while (_queue.Reader.TryRead(out var left))
            batch.Add(left);
    }

    private async Task WriteAsync(Action<WriteSession, long> apply, CancellationToken cancellation)
    {
        var request = new WriteRequest(apply);
        try
        {
            await _queue.Writer.WriteAsync(request, cancellation);
        }
        catch (ChannelClosedException e)
        {
            throw new HistoryException("The history is closed; this was not stored.", e);
        }

        await request.Done.WaitAsync(cancellation);
    }

    private async Task StoreAsync(List<WriteRequest> batch, CancellationToken cancellation)
    {
        var wait = FirstRetry;
        for (var damaged = 0; ;)
        {
            try
            {
                StoreOrSingleOut(batch);
                _trouble.Ended();
                return;
            }
            catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Storage)
            {
                damaged = 0;
                _trouble.Failed(SqliteTrouble.Describe(e));
            }
            catch (SqliteException e) when (SqliteTrouble.Classify(e) == TroubleKind.Damage)
            {
                if (++damaged == DamageTries)
                    throw new HistoryCorruptException(_database.FilePath, e.Message, e);
                _trouble.Failed(SqliteTrouble.Describe(e));
            }

            await Task.Delay(wait, _time, cancellation);
            wait = wait * 2 < LongestRetry ? wait * 2 : LongestRetry;
        }
    }

    /// <summary>Stores a batch in one transaction; where one request cannot be stored, each in its own, so that only that one fails.</summary>
    private void StoreOrSingleOut(List<WriteRequest> batch)
    {
        var pending = batch.Where(request => !request.Done.IsCompleted).ToList();
        if (pending.Count == 0 || TryStore(pending) is not { } error)
            return;
        if (pending.Count == 1)
        {
            HistoryLog.RequestRefused(_logger, _database.Folder, error.Message);
            pending[0].Fail(new HistoryException($"The history could not store this: {error.Message}", error));
            return;
        }

        foreach (var request in pending)
            StoreOrSingleOut([request]);
    }

    /// <summary>One transaction.</summary>
    /// <returns>Null, or the error that lies in a request, after everything was undone.</returns>
    /// <exception cref="SqliteException">The trouble lies with the disk or the file.</exception>
    private Exception? TryStore(List<WriteRequest> requests)
    {
        Interlocked.Increment(ref _transactions);
        var began = _time.GetTimestamp();
        try
        {
            _session ??= new WriteSession(_database);
            var now = _time.GetUtcNow().ToUnixTimeMilliseconds();
            _session.Begin();
            foreach (var request in requests)
                request.Apply(_session, now);
            _session.Commit();
        }
        catch (SqliteException e) when (SqliteTrouble.Classify(e) != TroubleKind.Request)
        {
            Drop();
            throw;
        }
        catch (Exception e) when (e is SqliteException or ArgumentException or InvalidOperationException or OverflowException)
        {
            // Closing the connection undoes the transaction whatever state it is in.
            Drop();
            return e;
        }

        HistoryLog.Stored(_logger, requests.Count, _time.GetElapsedTime(began).TotalMilliseconds);
        Journal.Publish(_session.LastSequence);
        foreach (var request in requests)
            request.Complete();
        return null;
    }

    private async Task AppendEncodedAsync(IReadOnlyList<FinishedCycle> cycles, CancellationToken cancellation)
    {
        var encoded = Encoded(cycles);
        await WriteAsync(
            (session, now) =>
            {
                foreach (var cycle in encoded)
                    session.Store(cycle, now);
            },
            cancellation);
    }

    private EncodedCycle[] Encoded(IReadOnlyList<FinishedCycle> cycles)
    {
        try
        {
            return EncodedCycle.Of(cycles);
        }
        catch (HistoryException e)
        {
            HistoryLog.RequestRefused(_logger, _database.Folder, e.InnerException!.Message);
            throw;
        }
    }

    private void Drop()
    {
        _session?.Dispose();
        _session = null;
    }
}
