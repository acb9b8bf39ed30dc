using SawEdge.Core;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Export;

/// <summary>Rows on their way from a source to a file.</summary>
public sealed class ExportRunTests
{
    private static readonly TableStyle Csv = new() { Format = TableFormat.Csv };

    [Fact]
    public async Task Copy_WhileOneBatchIsWritten_TheNextIsRead()
    {
        var source = new MadeSource(rows: 3 * RowBatch.UsualCapacity + 5);
        var writer = new MadeWriter(async batch =>
        {
            // Were they to take turns, this would wait for ever.
            if (batch < 3)
                await source.Filled(batch + 2);
        });
        var told = new List<ExportPosition>();
        Assert.Equal(source.Rows, await ExportRun.CopyAsync(source, writer, told.Add, CancellationToken.None));
        Assert.Equal(Enumerable.Range(0, (int)source.Rows).Select(i => (long)i), writer.Seen);
        Assert.Equal([2000, 4000, 6000, 6005], told.Select(position => position.Rows));
        Assert.All(told, position => Assert.Equal(source.Rows, position.All));
        Assert.True(writer.IsFinished);
    }

    [Fact]
    public async Task Copy_NoRows_IsATableOfNone()
    {
        var writer = new MadeWriter();
        Assert.Equal(0, await ExportRun.CopyAsync(new MadeSource(0), writer, null, CancellationToken.None));
        Assert.True(writer.IsFinished);
    }

    [Theory]
    [InlineData(true, false, "reading")]
    [InlineData(false, true, "writing")]
    [InlineData(true, true, "writing")]
    public async Task Copy_EitherSideFails_IsSaidOnceAndNothingRunsOn(bool readingFails, bool writingFails, string said)
    {
        var source = new MadeSource(100_000) { FailsAt = readingFails ? 3 : null };
        var writer = new MadeWriter(batch => writingFails && batch == 1 ? throw new IOException("writing") : Task.CompletedTask);
        var problem = await Assert.ThrowsAnyAsync<Exception>(() => ExportRun.CopyAsync(source, writer, null, CancellationToken.None));
        Assert.Equal(said, problem.Message);
        Assert.False(writer.IsFinished);
        Assert.False(source.IsFilling);
    }

    [Fact]
    public async Task Copy_CancelledAtAnyMoment_EndsThereAndFinishesNothing()
    {
        // Six times there is something to read, the last time nothing; five times something to write.
        for (var at = 0; at < 11; at++)
        {
            using var stop = new CancellationTokenSource();
            var step = 0;
            void Step()
            {
                if (step++ == at)
                    stop.Cancel();
            }

            var source = new MadeSource(10_000) { OnFill = Step };
            var writer = new MadeWriter(_ =>
            {
                Step();
                return Task.CompletedTask;
            });
            await Assert.ThrowsAnyAsync<OperationCanceledException>(() => ExportRun.CopyAsync(source, writer, null, stop.Token));
            Assert.False(writer.IsFinished);
            Assert.False(source.IsFilling);
        }
    }

    [Fact]
    public async Task ToFile_AFileThatIsThere_IsReplacedAsAWhole()
    {
        using var folder = new TempFolder();
        var file = folder.File("größe \"x\".csv");
        await File.WriteAllTextAsync(file, "old");
        var seen = new HashSet<string>();
        Assert.Equal(5000, await ExportRun.ToFileAsync(new MadeSource(5000), Csv, file, _ => seen.Add(File.ReadAllText(file)), CancellationToken.None));
        Assert.Equal(["old"], seen);
        Assert.Equal(5001, (await File.ReadAllLinesAsync(file)).Length);
        Assert.Equal([file], Directory.GetFileSystemEntries(folder.Path));
    }

    [Fact]
    public async Task ToFile_ALink_StaysOne()
    {
        using var folder = new TempFolder();
        Directory.CreateDirectory(folder.File("real"));
        File.CreateSymbolicLink(folder.File("link.csv"), folder.File("real/x.csv"));
        await ExportRun.ToFileAsync(new MadeSource(1), Csv, folder.File("link.csv"), null, CancellationToken.None);
        Assert.Equal("n\n0\n", await File.ReadAllTextAsync(folder.File("real/x.csv")));
        Assert.NotNull(new FileInfo(folder.File("link.csv")).LinkTarget);
    }

    [Theory]
    [InlineData("history")]
    [InlineData("cancelled")]
    public async Task ToFile_BrokenOff_LeavesTheOldFileAndNoOther(string how)
    {
        using var folder = new TempFolder();
        var file = folder.File("x.csv");
        await File.WriteAllTextAsync(file, "old");
        using var stop = new CancellationTokenSource();
        var source = new MadeSource(100_000) { FailsAt = how == "history" ? 20 : null };
        var half = 0;
        void Look(ExportPosition position)
        {
            half = Directory.GetFiles(folder.Path, $"*{WholeFile.DraftEnding}", new EnumerationOptions { AttributesToSkip = 0 }).Length;
            if (how == "cancelled" && position.Rows >= 20_000)
                stop.Cancel();
        }

        var problem = await Assert.ThrowsAnyAsync<Exception>(() => ExportRun.ToFileAsync(source, Csv, file, Look, stop.Token));
        Assert.True(how == "history" ? problem is HistoryException : problem is OperationCanceledException, problem.ToString());
        Assert.Equal(1, half);
        Assert.Equal("old", await File.ReadAllTextAsync(file));
        Assert.Equal([file], Directory.GetFileSystemEntries(folder.Path));
    }

    [TmpfsFact]
    public async Task ToFile_DiskFillsOnTheWay_SaysSoAndLeavesNoHalfFile()
    {
        using var disk = TmpfsFactAttribute.Mount(megabytes: 1);
        foreach (var style in (TableStyle[])[Csv, new TableStyle { Format = TableFormat.JsonLines }])
        {
            var file = Path.Combine(disk.Path, "x.csv");
            await File.WriteAllTextAsync(file, "old");
            var problem = await Assert.ThrowsAsync<IOException>(() => ExportRun.ToFileAsync(new MadeSource(1_000_000), style, file, null, CancellationToken.None));
            Assert.Equal($"'{file}' cannot be written: the disk is full; make room.", problem.Message);
            Assert.Equal("old", await File.ReadAllTextAsync(file));
            Assert.Equal([file], Directory.GetFileSystemEntries(disk.Path));
        }
    }

    [Fact]
    public async Task Copy_ToADeviceThatIsAlwaysFull_Fails()
    {
        if (!File.Exists("/dev/full"))
            return;
        await using var stream = new FileStream("/dev/full", FileMode.Open, FileAccess.Write, FileShare.ReadWrite, 0);
        var source = new MadeSource(100_000);
        await using var writer = TableFormats.Writer(source.Head, Csv, stream);
        await Assert.ThrowsAsync<IOException>(() => ExportRun.CopyAsync(source, writer, null, CancellationToken.None));
    }

    [Fact]
    public async Task ToFile_WhereItCannotBe_SaysWhyAndWhatToDo()
    {
        using var folder = new TempFolder();
        async Task<string> Problem(string file) => (await Assert.ThrowsAsync<IOException>(() => ExportRun.ToFileAsync(new MadeSource(1), Csv, file, null, CancellationToken.None))).Message;
        Assert.Equal($"'{folder.Path}' cannot be written: it is a folder; name a file in it.", await Problem(folder.Path));
        var missing = Path.Combine(folder.Path, "none");
        Assert.Equal($"'{missing}/x.csv' cannot be written: there is no folder '{missing}'; make it first.", await Problem(missing + "/x.csv"));
        Assert.EndsWith("the name of the file is empty or damaged; name a file.", await Problem(""), StringComparison.Ordinal);
        Assert.StartsWith($"'{folder.Path}/{new string('x', 300)}' cannot be written: ", await Problem(Path.Combine(folder.Path, new string('x', 300))), StringComparison.Ordinal);
        if (Directory.Exists("/sys/kernel"))
            Assert.Equal("'/sys/kernel/x.csv' cannot be written: the right to write there is missing; grant it, or name another folder.", await Problem("/sys/kernel/x.csv"));
        Assert.Empty(Directory.GetFileSystemEntries(folder.Path));
    }

    // The rows alone are several times what the heap of the process may hold.
    [Fact]
    public async Task ToFile_300000Cycles_FitsIntoASmallHeap()
    {
        using var folder = new TempFolder();
        await using (var history = new RunningHistory(folder.Path))
        {
            await history.AppendAsync(Cycles.Full() with { CycleId = "template", StartedAt = Cycles.Start, LoadScore = 1 });
            var columns = CycleColumns.All.Select(column => column.Name switch
            {
                "cycle_id" => "'c' || value",
                "started_at" => "started_at + value",
                "notes" => "notes || value",
                var other => other,
            });
            history.Ask($"DROP TRIGGER account_cycle_new; INSERT INTO cycles({string.Join(", ", CycleColumns.All.Select(column => column.Name))}) WITH RECURSIVE n(value) AS (SELECT 1 UNION ALL SELECT value + 1 FROM n WHERE value < 299999) SELECT {string.Join(", ", columns)} FROM n, cycles WHERE cycle_id = 'template'");
        }

        foreach (var format in (string[])["Csv", "JsonLines"])
        {
            var file = folder.File($"x.{format}");
            var (exit, output) = await Peer.RunAsync(TestHost.Dotnet, [TestHost.AssemblyPath, "export", folder.Path, format, file], new Dictionary<string, string> { ["DOTNET_GCHeapHardLimit"] = "0x3000000", ["DOTNET_gcServer"] = "0" });
            Assert.True(exit == 0, output);
            Assert.Equal("300000", output.Trim());
            Assert.True(new FileInfo(file).Length > 3L * 0x3000000, $"{new FileInfo(file).Length} bytes prove nothing.");
        }
    }

    private sealed class MadeSource(long rows) : IRowSource
    {
        private readonly List<TaskCompletionSource> _filled = [.. Enumerable.Range(0, 100).Select(_ => new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously))];
        private long _at;
        private int _fills;

        public long Rows => rows;

        public int? FailsAt { get; init; }

        public Action? OnFill { get; init; }

        public bool IsFilling { get; private set; }

        public TableHead Head { get; } = new("made", "A number.", [new TableColumn("n", ColumnType.Integer, "", "the number", "never")]);

        public Task Filled(int fills) => _filled[fills].Task;

        public Task<long?> CountAsync(CancellationToken cancellation) => Task.FromResult<long?>(rows);

        public async Task FillAsync(RowBatch batch, CancellationToken cancellation)
        {
            Assert.False(IsFilling);
            IsFilling = true;
            try
            {
                await Task.Yield();
                OnFill?.Invoke();
                cancellation.ThrowIfCancellationRequested();
                if (++_fills == FailsAt)
                    throw new HistoryException("reading");
                while (!batch.IsFull && _at < rows)
                    batch.Add()[0] = Cell.Of(_at++);
                if (_fills < _filled.Count)
                    _filled[_fills].TrySetResult();
            }
            finally
            {
                IsFilling = false;
            }
        }
    }

    private sealed class MadeWriter(Func<int, Task>? onWrite = null) : IRowWriter
    {
        private int _batches;

        public List<long> Seen { get; } = [];

        public bool IsFinished { get; private set; }

        public async Task WriteAsync(RowBatch batch, CancellationToken cancellation)
        {
            if (onWrite is not null)
                await onWrite(_batches++);
            cancellation.ThrowIfCancellationRequested();
            for (var i = 0; i < batch.Count; i++)
                Seen.Add(batch.Row(i)[0].Integer);
        }

        public Task FinishAsync(CancellationToken cancellation)
        {
            IsFinished = true;
            return Task.CompletedTask;
        }

        public ValueTask DisposeAsync() => default;
    }
}
