using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding.DailyFiles;

/// <summary>
/// Brings the journal's cycles to one folder of daily files. The list in the folder says how far it is, so that files and list agree whatever
/// happens; the cursor in the history follows it, and a folder that was emptied is filled again.
/// </summary>
public sealed class DailyFilesLoop
{
    /// <summary>How long after its end a date is closed, at the least: what is stored lags a little behind.</summary>
    public static readonly TimeSpan After = TimeSpan.FromMinutes(15);

    private const int MostEntries = 5000;
    private static readonly TimeSpan SlowLook = TimeSpan.FromSeconds(30);
    private static readonly TimeSpan Retry = TimeSpan.FromSeconds(10);

    private readonly DailyFilesOptions _options;
    private readonly HistoryReader _reader;
    private readonly HistoryWriter _writer;
    private readonly Func<DateTimeOffset, bool> _isSettled;
    private readonly TimeProvider _machine;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly DailyFolder _folder;
    private bool _inTrouble;
    private long _cursor;

    /// <summary>Prepares the loop; <see cref="RunAsync"/> does the work.</summary>
    /// <param name="options">What is wanted.</param>
    /// <param name="zone">The plant's time zone.</param>
    /// <param name="reader">The history.</param>
    /// <param name="writer">Keeps the cursor, and wakes this when there is something new.</param>
    /// <param name="isSettled">Whether no saw is at work on a cycle that began before a moment.</param>
    /// <param name="machine">The machine clock, which dates are counted by.</param>
    /// <param name="time">The clock for waiting.</param>
    /// <param name="logger">Where trouble is said.</param>
    public DailyFilesLoop(DailyFilesOptions options, TimeZoneInfo zone, HistoryReader reader, HistoryWriter writer, Func<DateTimeOffset, bool> isSettled, TimeProvider machine, TimeProvider time, ILogger<DailyFilesLoop> logger)
    {
        (_options, _reader, _writer, _isSettled, _machine, _time, _logger) = (options, reader, writer, isSettled, machine, time, logger);
        _folder = new DailyFolder(options, zone, reader);
    }

    /// <summary>Its name as a consumer of the journal; no destination can be called so.</summary>
    public string Name => "files/" + _options.Name;

    /// <summary>The last journal entry that is in the files.</summary>
    public long Cursor => Interlocked.Read(ref _cursor);

    /// <summary>Whether the files cannot be written at the moment.</summary>
    public bool InTrouble => Volatile.Read(ref _inTrouble);

    /// <summary>Writes until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled; what is not in the files comes after the next start.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        while (true)
        {
            try
            {
                await _folder.OpenAsync(await _reader.LastSequenceAsync(cancellation), IsOver, cancellation);
                await FollowAsync(cancellation);
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException or InvalidDataException or (HistoryException and not HistoryCorruptException))
            {
                if (!_inTrouble)
                    ForwardingLog.FilesStopped(_logger, _options.Name, _options.Folder, e.Message);
                Volatile.Write(ref _inTrouble, true);
            }

            await Task.Delay(Retry, _time, cancellation);
        }
    }

    private async Task FollowAsync(CancellationToken cancellation)
    {
        while (true)
        {
            // Taken before reading: what is committed after the reading wakes the wait below.
            var heard = _writer.Journal.Last;
            var entries = await _reader.JournalAsync(_folder.Manifest.Through, MostEntries, cancellation);
            if (entries.Count > 0)
                await _folder.TakeAsync(entries, cancellation);
            else
                await _folder.CompleteAsync(IsOver, cancellation);
            if (_inTrouble)
                ForwardingLog.FilesGoOn(_logger, _options.Name, _options.Folder);
            Volatile.Write(ref _inTrouble, false);
            if (Cursor != _folder.Manifest.Through)
            {
                await _writer.SaveCursorAsync(Name, _folder.Manifest.Through, [], cancellation);
                Interlocked.Exchange(ref _cursor, _folder.Manifest.Through);
            }

            if (entries.Count == 0)
                await _writer.Journal.WaitBeyondAsync(heard, SlowLook, _time, cancellation);
        }
    }

    private bool IsOver(DateTimeOffset end) => _machine.GetUtcNow() >= end + After && _isSettled(end);
}
