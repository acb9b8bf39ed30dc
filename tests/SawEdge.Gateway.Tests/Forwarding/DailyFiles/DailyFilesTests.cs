using System.Security.Cryptography;
using Microsoft.Extensions.Time.Testing;
using SawEdge.Core;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.Forwarding.DailyFiles;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding.DailyFiles;

/// <summary>Files of a day each, held against an export of the same day and against their own list.</summary>
public sealed class DailyFilesTests : IAsyncDisposable
{
    // The clocks go forward on 29 March 2026 there: a day of 23 hours.
    private static readonly TimeZoneInfo Berlin = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");
    private static readonly DateTimeOffset Saturday = new(2026, 3, 28, 12, 0, 0, TimeSpan.Zero);

    private readonly RunningHistory _history = new();
    private readonly TempFolder _folder = new();
    private readonly FakeTimeProvider _machine = new(Saturday);
    private readonly FakeTimeProvider _wall = new(Saturday);
    private CancellationTokenSource _stop = new();
    private DateTimeOffset _busySince = DateTimeOffset.MaxValue;
    private DailyFilesLoop? _loop;
    private Task _run = Task.CompletedTask;

    [Fact]
    public async Task Cycles_AsTheyEnd_AreAddedToTheFileOfTheirDate()
    {
        await _history.AppendAsync(Cycle("saw-1", Saturday));
        Start();
        await InFilesAsync();
        var first = Single();
        await _history.AppendAsync(Cycle("saw-1", Saturday.AddMinutes(5), "=cmd|' /C calc'!A0"));
        await _history.AppendAsync(Cycle("saw-2", Saturday.AddMinutes(3)));
        await InFilesAsync();
        var file = Single();

        Assert.Equal(("cycles-2026-03-28.csv", 3L, false, null, 0), (file.Name, file.Rows, file.IsComplete, file.Sha256, file.Revision));
        Assert.Equal(file.Bytes, new FileInfo(PathOf(file)).Length);
        Assert.True(file.Bytes > first.Bytes);
        Assert.Contains("\"'=cmd|", await File.ReadAllTextAsync(PathOf(file)), StringComparison.Ordinal);
    }

    // As after an outage: more of one date than a batch of the export holds.
    [Fact]
    public async Task Cycles_ThatComeByTheThousand_AreAllAdded()
    {
        await _history.AppendAsync(Cycle("saw-1", Saturday));
        Start();
        await InFilesAsync();
        var many = Enumerable.Range(1, (2 * RowBatch.UsualCapacity) + 7).Select(i => new FinishedCycle { Record = Cycle("saw-1", Saturday.AddSeconds(i)) }).ToList();
        await _history.Writer.AppendAsync(many, CancellationToken.None);
        await InFilesAsync();
        Assert.Equal((many.Count + 1L, 0), (Single().Rows, Single().Revision));
        Assert.Equal(many.Count + 2, (await File.ReadAllLinesAsync(PathOf(Single()))).Length);
    }

    [Fact]
    public async Task Date_ThatIsOver_HoldsTheBytesOfItsExport()
    {
        Start();
        foreach (var (saw, minutes) in new[] { ("saw-2", 9), ("saw-1", 3), ("saw-1", 30), ("saw-2", 12 * 60), ("saw-1", 35 * 60), ("saw-2", 36 * 60) })
            await _history.AppendAsync(Cycle(saw, Saturday.AddMinutes(minutes)));
        await InFilesAsync();
        _machine.SetUtcNow(new DateTimeOffset(2026, 3, 30, 22, 30, 0, TimeSpan.Zero));
        await UntilAsync(() => Manifest().Files.Count(file => file.IsComplete) == 3, "three dates are closed");

        var files = Manifest().Files;
        Assert.Equal(["cycles-2026-03-28.csv", "cycles-2026-03-29.csv", "cycles-2026-03-30.csv"], files.Select(file => file.Name));
        Assert.Equal([3L, 1L, 2L], files.Select(file => file.Rows));
        Assert.Equal(TimeSpan.FromHours(23), files[1].To - files[1].From);
        foreach (var file in files)
        {
            Assert.Equal(await ExportAsync(file.From, file.To), await File.ReadAllBytesAsync(PathOf(file)));
            Assert.Equal(file.Sha256, Convert.ToHexStringLower(SHA256.HashData(await File.ReadAllBytesAsync(PathOf(file)))));
        }
    }

    [Fact]
    public async Task Date_WithoutACycle_IsAFileWithoutRows()
    {
        await _history.AppendAsync(Cycle("saw-1", Saturday));
        Start();
        await InFilesAsync();
        _machine.SetUtcNow(Saturday.AddDays(3));
        await UntilAsync(() => Manifest().Files.Count(file => file.IsComplete) == 3, "three dates are closed");

        Assert.Equal([1L, 0L, 0L], Manifest().Files.Select(file => file.Rows));
        Assert.Single(await File.ReadAllLinesAsync(PathOf(Manifest().Files[2])));
    }

    [Fact]
    public async Task Date_WhileASawIsStillAtWorkOnIt_StaysOpen()
    {
        await _history.AppendAsync(Cycle("saw-1", Saturday));
        _busySince = Saturday.AddHours(10);
        Start();
        await InFilesAsync();
        _machine.SetUtcNow(Saturday.AddHours(12));
        await _history.AppendAsync(Cycle("saw-2", Saturday.AddHours(11.5)));
        await InFilesAsync();
        Assert.All(Manifest().Files, file => Assert.False(file.IsComplete));

        // It ends: the cycle belongs to the date on which it started.
        await _history.AppendAsync(Cycle("saw-1", Saturday.AddHours(10)) with { EndedAt = Saturday.AddHours(11.8) });
        _busySince = DateTimeOffset.MaxValue;
        await InFilesAsync();
        await UntilAsync(() => Manifest().Files[0] is { IsComplete: true, Rows: 2 }, "the date is closed");
    }

    [Fact]
    public async Task Correction_OfARunningAndOfAClosedDate_WritesTheFileAnew()
    {
        var cycle = Cycle("saw-1", Saturday);
        await _history.AppendAsync(cycle);
        Start();
        await InFilesAsync();
        await _history.AppendAsync(cycle with { Job = "corrected" });
        await InFilesAsync();
        Assert.Equal((1L, 1), (Single().Rows, Single().Revision));
        Assert.Contains("corrected", await File.ReadAllTextAsync(PathOf(Single())), StringComparison.Ordinal);

        _machine.SetUtcNow(Saturday.AddDays(1));
        await UntilAsync(() => Single().IsComplete, "the date is closed");
        Assert.Equal(1, Single().Revision);
        await _history.AppendAsync(cycle with { Job = "again" });
        await InFilesAsync();
        Assert.Equal((true, 2), (Single().IsComplete, Single().Revision));
        Assert.Equal(await ExportAsync(Single().From, Single().To), await File.ReadAllBytesAsync(PathOf(Single())));
    }

    // A crash between a file and the list leaves a list that is behind; one in the middle of a row, a piece of it.
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public async Task Restarts_AtAnyMoment_LeaveNeitherGapNorDouble(int seed)
    {
        var random = new Random(seed);
        var (now, known) = (Saturday, new List<CycleRecord>());
        byte[]? before = null;
        Start();
        for (var i = 0; i < 60; i++)
        {
            now = now.AddMinutes(random.Next(1, 90));
            if (known.Count == 0 || random.Next(5) > 0)
            {
                known.Add(Cycle($"saw-{random.Next(1, 4)}", now.AddMinutes(-random.Next(0, 60)).AddMilliseconds(i)));
                await _history.AppendAsync(known[^1]);
            }
            else
                await _history.AppendAsync(known[random.Next(known.Count)] with { Notes = $"corrected {i}" });
            _machine.SetUtcNow(now);
            if (random.Next(3) > 0)
                await InFilesAsync();
            if (random.Next(6) > 0)
                continue;
            await StopAsync();
            var list = Path.Combine(_folder.Path, DailyManifest.FileName);
            if (before is not null && random.Next(2) == 0)
                await File.WriteAllBytesAsync(list, before);
            if (File.Exists(list))
                before = await File.ReadAllBytesAsync(list);
            if (Directory.GetFiles(_folder.Path, "*.csv").Order().LastOrDefault() is { } running && random.Next(2) == 0)
                await File.AppendAllTextAsync(running, "saw-1-000,\"half a");
            Start();
        }

        await InFilesAsync();
        _machine.SetUtcNow(now.AddDays(2));
        await UntilAsync(() => Manifest().Files.All(file => file.IsComplete) && Manifest().Files[^1].To + DailyFilesLoop.After > now, "all dates are closed");
        foreach (var file in Manifest().Files)
            Assert.Equal(System.Text.Encoding.UTF8.GetString(await ExportAsync(file.From, file.To)), await File.ReadAllTextAsync(PathOf(file)));
        Assert.Equal(known.Count, Manifest().Files.Sum(file => file.Rows));
    }

    [Fact]
    public async Task Folder_ThatWasEmptied_IsFilledAgain()
    {
        await _history.AppendAsync(Cycle("saw-1", Saturday));
        Start();
        await InFilesAsync();
        await StopAsync();
        foreach (var file in Directory.GetFiles(_folder.Path))
            File.Delete(file);
        Start();
        await InFilesAsync();
        Assert.Equal(1, Single().Rows);
        Assert.True(File.Exists(PathOf(Single())));
    }

    [Fact]
    public async Task Columns_ThatAreOtherOnes_WriteAllFilesAnew()
    {
        await _history.AppendAsync(Cycle("saw-1", Saturday));
        Start();
        await InFilesAsync();
        await StopAsync();
        Start(Options with { Columns = ["saw", "cut_area_cm2", "job"], Units = DisplayUnits.Inch });
        await InFilesAsync();
        Assert.Equal(["saw", "cut_area_in2", "job"], Manifest().Columns);
        Assert.StartsWith("saw,cut_area_in2,job\n", await File.ReadAllTextAsync(PathOf(Single())), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Folder_ThatCannotBeWritten_IsSaidOnceAndWrittenLater()
    {
        await File.WriteAllTextAsync(Path.Combine(_folder.Path, "taken"), "");
        Start(Options with { Folder = Path.Combine(_folder.Path, "taken") });
        await _history.AppendAsync(Cycle("saw-1", Saturday));
        await UntilAsync(() => _loop!.InTrouble, "the trouble is seen");
        File.Delete(Path.Combine(_folder.Path, "taken"));
        await UntilAsync(() => !_loop!.InTrouble && File.Exists(Path.Combine(_folder.Path, "taken", DailyManifest.FileName)), "it goes on");
        Assert.Single(Texts, line => line.Contains("cannot be written", StringComparison.Ordinal));
        Assert.Single(Texts, line => line.Contains("are written again", StringComparison.Ordinal));
    }

    [Fact]
    public async Task List_ThatIsNone_IsSaidAndNotOverwritten()
    {
        var list = Path.Combine(_folder.Path, DailyManifest.FileName);
        await File.WriteAllTextAsync(list, "{\"files\":[");
        Start();
        await UntilAsync(() => _loop!.InTrouble, "the trouble is seen");
        Assert.Contains("is no list of daily files", Said(), StringComparison.Ordinal);
        Assert.Equal("{\"files\":[", await File.ReadAllTextAsync(list));
    }

    public async ValueTask DisposeAsync()
    {
        await StopAsync();
        await _history.DisposeAsync();
        _folder.Dispose();
    }

    private DailyFilesOptions Options => new("exchange", _folder.Path, DailyFormat.Csv, null, DisplayUnits.Metric, true);

    private static CycleRecord Cycle(string saw, DateTimeOffset startedAt, string job = "J-1") => Cycles.Make(saw, 1) with
    {
        CycleId = FormattableString.Invariant($"{saw}-{startedAt.ToUnixTimeMilliseconds()}"),
        StartedAt = startedAt,
        CutStartedAt = startedAt.AddSeconds(10),
        CutEndedAt = startedAt.AddSeconds(110),
        EndedAt = startedAt.AddSeconds(120),
        Job = job,
    };

    private void Start(DailyFilesOptions? options = null)
    {
        _stop = new CancellationTokenSource();
        _loop = new DailyFilesLoop(options ?? Options, Berlin, _history.Reader, _history.Writer, moment => _busySince >= moment, _machine, _wall, _history.Log.For<DailyFilesLoop>());
        _run = _loop.RunAsync(_stop.Token);
    }

    private async Task StopAsync()
    {
        await _stop.CancelAsync();
        if (_loop is not null)
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _run);
        _stop.Dispose();
        _loop = null;
    }

    private Task InFilesAsync() => UntilAsync(() => _loop!.Cursor == _history.Writer.Journal.Last && _loop.Cursor > 0, "all that is stored is in the files");

    private DailyManifest Manifest() => DailyManifest.Read(_folder.Path)!;

    private DailyFile Single() => Assert.Single(Manifest().Files);

    private string PathOf(DailyFile file) => Path.Combine(_folder.Path, file.Name);

    private string Said() => string.Join('\n', Texts);

    private IEnumerable<string> Texts => _history.Log.Entries.Select(entry => entry.Text);

    // The loop looks now and then by the wall clock.
    private Task UntilAsync(Func<bool> condition, string what) => Until.TrueAsync(
        () =>
        {
            _wall.Advance(TimeSpan.FromSeconds(11));
            return condition();
        },
        () => $"{what}; {Said()}");

    private async Task<byte[]> ExportAsync(DateTimeOffset from, DateTimeOffset to)
    {
        using var bytes = new MemoryStream();
        var source = ExportSources.Open(_history.Reader, new ExportQuestion { Table = ExportTables.Find("cycles")!, From = from, To = to });
        await using var writer = TableFormats.Writer(source.Head, new TableStyle { Format = TableFormat.Csv }, bytes);
        await ExportRun.CopyAsync(source, writer, null, CancellationToken.None);
        return bytes.ToArray();
    }
}
