using System.Security.Cryptography;
using SawEdge.Core;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding.DailyFiles;

/// <summary>
/// A folder of daily files and their list. Rows are added to the file of a running date; whatever else happens to it (a correction, a cycle
/// that comes late, a restart, the end of the date), it is written anew from the history, whole, and replaced. The file of a date that is
/// over holds the very bytes of an export of that date.
/// </summary>
/// <param name="options">What is wanted.</param>
/// <param name="zone">The plant's time zone.</param>
/// <param name="reader">The history.</param>
internal sealed class DailyFolder(DailyFilesOptions options, TimeZoneInfo zone, HistoryReader reader)
{
    private const string MadeEnding = ".made";

    // The cycles in the file of a date that still runs, each with the number of its content.
    private readonly Dictionary<DateOnly, Dictionary<string, UInt128>> _open = [];

    private readonly TableStyle _style = new() { Format = options.Format == DailyFormat.Csv ? TableFormat.Csv : TableFormat.JsonLines, IsSafeForSpreadsheets = options.IsSafeForSpreadsheets };

    /// <summary>The list as it is on the disk.</summary>
    public DailyManifest Manifest { get; private set; } = new("cycles", [], "", 0, []);

    /// <summary>Begins anew from what is on the disk: at the start, and after trouble, when nobody knows what was written.</summary>
    /// <param name="last">The last number in the history's journal.</param>
    /// <param name="isOver">Whether a date that ended then is over for all saws.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="InvalidDataException">What stands there as the list is none.</exception>
    /// <exception cref="IOException">The folder cannot be read or written.</exception>
    public async Task OpenAsync(long last, Func<DateTimeOffset, bool> isOver, CancellationToken cancellation)
    {
        _open.Clear();
        Directory.CreateDirectory(options.Folder);
        using var head = Rows(new ExportQuestion { Table = ExportTables.Find("cycles")! }, (_, _) => { });
        string[] columns = [.. head.Head.Columns.Select(column => column.Name)];
        var manifest = DailyManifest.Read(options.Folder);

        // Another history, other columns or another clock: all files are written anew, as for a folder that is empty.
        if (manifest is null || manifest.Through > last || !manifest.Columns.SequenceEqual(columns) || manifest.TimeZone != zone.Id)
            manifest = new DailyManifest("cycles", columns, zone.Id, 0, [.. (manifest?.Files ?? []).Select(file => file with { IsComplete = false, Sha256 = null })]);
        Manifest = manifest;

        // What a process that was killed left behind.
        foreach (var left in Directory.EnumerateFiles(options.Folder, ".*" + WholeFile.DraftEnding).Concat(Directory.EnumerateFiles(options.Folder, "*" + MadeEnding)))
            File.Delete(left);
        if (manifest.Through == 0)
            await BeginAsync(last, isOver, cancellation);
    }

    // Date by date from the history, which is what the journal up to here has led to.
    private async Task BeginAsync(long last, Func<DateTimeOffset, bool> isOver, CancellationToken cancellation)
    {
        if (await reader.CycleStartsAsync(cancellation) is { } starts)
        {
            for (var date = DateOf(starts.First); date <= DateOf(starts.Last); date = date.AddDays(1))
                await SaveAsync(Manifest.With(await WriteAsync(Find(Manifest, date), date, isOver(Begin(date.AddDays(1))), cancellation)), cancellation);
        }

        await SaveAsync(Manifest with { Through = last }, cancellation);
    }

    /// <summary>Brings entries of the journal into the files and the list.</summary>
    /// <param name="entries">The entries after <see cref="DailyManifest.Through"/>, in order.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="IOException">A file cannot be written.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task TakeAsync(IReadOnlyList<JournalEntry> entries, CancellationToken cancellation)
    {
        var manifest = Manifest;
        foreach (var date in entries.Select(entry => entry.Cycle).OfType<CycleRecord>().GroupBy(cycle => DateOf(cycle.StartedAt)).OrderBy(group => group.Key))
        {
            var file = Find(manifest, date.Key);
            manifest = manifest.With(file is { IsComplete: false } && _open.TryGetValue(date.Key, out var known) && await AddAsync(file, known, [.. date], cancellation) is { } longer
                ? longer
                : await WriteAsync(file, date.Key, file?.IsComplete ?? false, cancellation));
        }

        await SaveAsync(manifest with { Through = entries[^1].Sequence }, cancellation);
    }

    /// <summary>Closes files whose date is over, and makes those of dates without a cycle between them.</summary>
    /// <param name="isOver">Whether a date that ended then is over for all saws.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="IOException">A file cannot be written.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task CompleteAsync(Func<DateTimeOffset, bool> isOver, CancellationToken cancellation)
    {
        if (Manifest.Files.Count == 0)
            return;
        for (var date = Manifest.Files.FirstOrDefault(file => !file.IsComplete)?.Date ?? Manifest.Files[^1].Date.AddDays(1); isOver(Begin(date.AddDays(1))); date = date.AddDays(1))
        {
            if (Find(Manifest, date) is { IsComplete: true })
                continue;
            await SaveAsync(Manifest.With(await WriteAsync(Find(Manifest, date), date, isComplete: true, cancellation)), cancellation);
            _open.Remove(date);
        }
    }

    private static DailyFile? Find(DailyManifest manifest, DateOnly date) => manifest.Files.FirstOrDefault(file => file.Date == date);

    // Null where a row that stands in the file already has changed, or the file is not the one that was written: then it is written anew.
    private async Task<DailyFile?> AddAsync(DailyFile file, Dictionary<string, UInt128> known, IReadOnlyList<CycleRecord> cycles, CancellationToken cancellation)
    {
        var ids = cycles.Select(cycle => cycle.CycleId).ToHashSet(StringComparer.Ordinal);
        var path = Path.Combine(options.Folder, file.Name);
        if (new FileInfo(path) is not { Exists: true } there || there.Length < file.Bytes)
            return null;
        var fresh = new Dictionary<string, UInt128>(StringComparer.Ordinal);
        var rows = new RowBatch(Manifest.Columns.Count, ids.Count);
        var question = new ExportQuestion { Table = ExportTables.Find("cycles")!, CycleIds = [.. ids.Where(id => !known.ContainsKey(id))], From = cycles.Min(cycle => cycle.StartedAt), To = cycles.Max(cycle => cycle.StartedAt).AddMilliseconds(1) };
        using (var old = Rows(question with { CycleIds = [.. ids.Where(known.ContainsKey)] }, (id, number) => fresh[id] = number))
            await ReadAllAsync(old, rows, cancellation);
        if (fresh.Any(row => known[row.Key] != row.Value))
            return null;
        rows.Clear();
        fresh.Clear();
        using var added = Rows(question, (id, number) => fresh[id] = number);
        await ReadAllAsync(added, rows, cancellation);
        if (rows.Count == 0)
            return file;
        await using var stream = new FileStream(path, FileMode.Open, FileAccess.Write, FileShare.Read);

        // What stands behind was not told to anybody: a write that was broken off.
        stream.SetLength(file.Bytes);
        stream.Position = file.Bytes;
        await using (var writer = TableFormats.Writer(added.Head, _style with { HasHeader = false }, stream))
        {
            await writer.WriteAsync(rows, cancellation);
            await writer.FinishAsync(cancellation);
        }

        stream.Flush(flushToDisk: true);
        foreach (var (id, number) in fresh)
            known[id] = number;
        return file with { Rows = file.Rows + rows.Count, Bytes = stream.Length };
    }

    // A source gives a part at a time.
    private static async Task ReadAllAsync(KeyedRows source, RowBatch rows, CancellationToken cancellation)
    {
        for (var before = -1; rows.Count > before;)
        {
            before = rows.Count;
            await source.FillAsync(rows, cancellation);
        }
    }

    private async Task<DailyFile> WriteAsync(DailyFile? before, DateOnly date, bool isComplete, CancellationToken cancellation)
    {
        var known = new Dictionary<string, UInt128>(StringComparer.Ordinal);
        var file = new DailyFile(Invariant($"cycles-{date:yyyy-MM-dd}{TableFormats.Ending(_style)}"), date, Begin(date), Begin(date.AddDays(1)), 0, 0, null, isComplete, before?.Revision ?? 0);
        var path = Path.Combine(options.Folder, file.Name);
        var made = path + MadeEnding;
        using (var rows = Rows(new ExportQuestion { Table = ExportTables.Find("cycles")!, From = file.From, To = file.To }, (id, number) => known[id] = number))
            file = file with { Rows = await ExportRun.ToFileAsync(rows, _style, made, null, cancellation) };
        var (sum, bytes) = await SumAsync(made, cancellation);
        var isSame = before is not null && File.Exists(path) && before.Bytes == bytes && (await SumAsync(path, cancellation)).Sum == sum;
        if (isSame)
            File.Delete(made);
        else
            File.Move(made, path, overwrite: true);
        if (!isComplete)
            _open[date] = known;
        return file with { Bytes = bytes, Sha256 = isComplete ? sum : null, Revision = file.Revision + (before is null || isSame ? 0 : 1) };
    }

    private async Task SaveAsync(DailyManifest manifest, CancellationToken cancellation)
    {
        await WholeFile.WriteAsync(Path.Combine(options.Folder, DailyManifest.FileName), async stream =>
        {
            await stream.WriteAsync(manifest.ToBytes(), cancellation);
            return true;
        });
        Manifest = manifest;
    }

    private KeyedRows Rows(ExportQuestion question, Action<string, UInt128> told) =>
        new(reader, question with { Columns = options.Columns, Units = options.Units }, told);

    private DateOnly DateOf(DateTimeOffset moment) => DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(moment, zone).DateTime);

    private DateTimeOffset Begin(DateOnly date) => ShiftCalendar.MomentOf(zone, date.ToDateTime(TimeOnly.MinValue));

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);

    private static async Task<(string Sum, long Bytes)> SumAsync(string path, CancellationToken cancellation)
    {
        await using var stream = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
        var sum = await SHA256.HashDataAsync(stream, cancellation);
        return (Convert.ToHexStringLower(sum), stream.Length);
    }
}
