using System.CommandLine;
using System.Globalization;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Commands;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Tests.Export;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Commands;

public sealed class ReplayCommandTests : IDisposable
{
    private const string Header = "time,saw,motor_load,cutting\n";

    private readonly TempFolder _folder = new();
    private readonly StringWriter _output = new();
    private readonly StringWriter _error = new();
    private readonly List<string> _frames = [];
    private ReplaySettings? _settings;

    private string Out => _folder.File("out");

    private string Cycles => Path.Combine(Out, "cycles.csv");

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Replay_Recordings_GivesEachFrameInOrderAndWritesTheTable()
    {
        Write("b.csv", Header + Rows("saw-2", 0, 3));
        Write("a.csv", Header + Rows("saw-1", 10, 3));

        Assert.Equal(0, await RunAsync("--input", _folder.File("a.csv"), _folder.File("b.csv"), "--out", Out, "--saw", "x", "--jobs", _folder.File("a.csv")));

        Assert.Equal(["saw-2 0 0", "saw-2 1 1", "saw-2 2 2", "saw-1 10 10", "saw-1 11 11", "saw-1 12 12"], _frames);
        Assert.Equal(3, (await File.ReadAllLinesAsync(Cycles)).Length);
        Assert.Equal(["alarms.csv", "cycles.csv", "gateway.lock"], Directory.GetFiles(Out).Select(Path.GetFileName).Order(StringComparer.Ordinal));
        Assert.Equal(("x", _folder.File("a.csv"), null), (_settings!.Saw, _settings.JobsFile, _settings.ConfigFile));
        var lines = _output.ToString().Split(Environment.NewLine);
        Assert.StartsWith("2 files, 6 frames of 2 saws in ", lines[0], StringComparison.Ordinal);
        Assert.Equal("1970-01-01T00:00:00Z to 1970-01-01T00:00:12Z", lines[1]);
        Assert.Equal(["  saw-1: 3 frames", "  saw-2: 3 frames", "2 cycles: 2 completed", "0 alarms; those about silence, the disk, destinations and OEE have no part in a replay", $"written to {Cycles} and {Path.Combine(Out, "alarms.csv")}"], lines[2..7]);
        Assert.Equal("", _error.ToString());
    }

    [Fact]
    public async Task Replay_Twice_GivesTheSameBytes()
    {
        Write("a.csv", Header + Rows("saw-1", 0, 5));
        Assert.Equal(0, await RunAsync("--input", _folder.Path, "--out", Out));
        var first = await File.ReadAllBytesAsync(Cycles);
        _frames.Clear();
        Assert.Equal(0, await RunAsync("--input", _folder.File("*.csv"), "--out", Out, "--overwrite"));
        Assert.Equal(first, await File.ReadAllBytesAsync(Cycles));
    }

    [Fact]
    public async Task Replay_ProblemsInRecordings_AreSaidAtTheEndAndTheRestCounts()
    {
        Write("a.csv", Header + Rows("saw-1", 0, 2) + "1970-01-01T00:00:02Z,saw-1,much,true\n1970-01-01T00:00:03Z,saw-1,more,true\nnever,saw-1,1,true\n");

        Assert.Equal(0, await RunAsync("-i", _folder.File("a.csv"), "-o", Out));

        Assert.Equal(4, _frames.Count);
        var lines = _error.ToString().Split(Environment.NewLine);
        Assert.Equal("3 problems in the recordings:", lines[0]);
        Assert.StartsWith($"  {_folder.File("a.csv")}:4: motor_load: 'much' is no number", lines[1], StringComparison.Ordinal);
        Assert.EndsWith("(2 times)", lines[1], StringComparison.Ordinal);
        Assert.StartsWith($"  {_folder.File("a.csv")}:6: time: 'never' is no moment", lines[2], StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("history.db")]
    [InlineData("cycles.csv")]
    public async Task Replay_FolderHoldsAnEarlierOne_IsRefusedUnlessOverwritten(string earlier)
    {
        Write("a.csv", Header + Rows("saw-1", 0, 2));
        Directory.CreateDirectory(Out);
        await File.WriteAllTextAsync(Path.Combine(Out, earlier), "earlier");
        await File.WriteAllTextAsync(Path.Combine(Out, "mine.txt"), "mine");

        Assert.Equal(1, await RunAsync("--input", _folder.File("a.csv"), "--out", Out));
        Assert.Contains($"holds {earlier} already", _error.ToString(), StringComparison.Ordinal);
        Assert.Contains("--overwrite", _error.ToString(), StringComparison.Ordinal);
        Assert.Equal("earlier", await File.ReadAllTextAsync(Path.Combine(Out, earlier)));
        Assert.Empty(_frames);

        Assert.Equal(0, await RunAsync("--input", _folder.File("a.csv"), "--out", Out, "--overwrite"));
        Assert.Equal(["alarms.csv", "cycles.csv", "gateway.lock", "mine.txt"], Directory.GetFiles(Out).Select(Path.GetFileName).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Replay_FolderOfARunningGateway_IsRefused()
    {
        Write("a.csv", Header + Rows("saw-1", 0, 2));
        using var running = HistoryDatabase.Open(Out);
        Assert.Equal(1, await RunAsync("--input", _folder.File("a.csv"), "--out", Out, "--overwrite"));
        Assert.Contains("--out", _error.ToString(), StringComparison.Ordinal);
        Assert.True(File.Exists(running.FilePath));
    }

    [Fact]
    public async Task Replay_WrongInputs_AreSaidAtOnceAndNothingIsMade()
    {
        Write("bad.csv", "time,saw\n");
        Assert.Equal(1, await RunAsync("--input", _folder.File("none.csv"), _folder.File("x*.csv"), "--out", Out));
        Assert.Contains("none.csv: there is no such file", _error.ToString(), StringComparison.Ordinal);
        Assert.Contains("x*.csv: no file matches", _error.ToString(), StringComparison.Ordinal);
        Assert.Equal(1, await RunAsync("--input", _folder.File("bad.csv"), "--out", Out));
        Assert.Contains("bad.csv: no column is a signal", _error.ToString(), StringComparison.Ordinal);
        Assert.Equal(1, await RunAsync("--input", _folder.Path, "--out", Out, "--config", _folder.File("none.json")));
        Assert.Contains("none.json: there is no such file", _error.ToString(), StringComparison.Ordinal);
        Assert.False(Directory.Exists(Out));
    }

    [Fact]
    public async Task Replay_OutIsAFileOrBelowOne_IsRefused()
    {
        Write("a.csv", Header + Rows("saw-1", 0, 2));
        Assert.Equal(1, await RunAsync("--input", _folder.File("a.csv"), "--out", _folder.File("a.csv")));
        Assert.Contains("this is a file", _error.ToString(), StringComparison.Ordinal);
        Assert.Equal(1, await RunAsync("--input", _folder.File("a.csv"), "--out", Path.Combine(_folder.File("a.csv"), "out")));
        Assert.Contains("--out ", _error.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Replay_WrongConfiguration_IsSaidAndNoTableIsWritten()
    {
        Write("a.csv", Header + Rows("saw-1", 0, 2));
        var code = await RunAsync((_, _, _) => throw new CommandException("saws[0].name: missing"), "--input", _folder.File("a.csv"), "--out", Out);
        Assert.Equal(1, code);
        Assert.Contains("saws[0].name: missing", _error.ToString(), StringComparison.Ordinal);
        Assert.False(File.Exists(Cycles));
    }

    [Fact]
    public async Task Replay_BrokenOff_LeavesNoTable()
    {
        Write("a.csv", Header + Rows("saw-1", 0, 10));
        using var stop = new CancellationTokenSource();
        var code = await RunAsync((_, _, _) => Task.FromResult<IReplayRun>(new Collecting(_frames) { OnFrame = count => Task.Run(() => count == 5 ? stop.CancelAsync() : Task.CompletedTask) }), stop.Token, "--input", _folder.File("a.csv"), "--out", Out);
        Assert.Equal(130, code);
        Assert.Equal(5, _frames.Count);
        Assert.False(File.Exists(Cycles));
    }

    [Theory]
    [InlineData("--out", "x")]
    [InlineData("--input", "x")]
    public async Task Replay_OptionMissing_IsSaid(string option, string value)
    {
        Assert.NotEqual(0, await RunAsync(option, value));
        Assert.Contains(option == "--out" ? "--input" : "--out", _error.ToString(), StringComparison.Ordinal);
    }

    private static string Rows(string saw, int from, int count) =>
        string.Concat(Enumerable.Range(from, count).Select(i => string.Create(CultureInfo.InvariantCulture, $"{DateTime.UnixEpoch.AddSeconds(i):O},{saw},{i},true\n")));

    private void Write(string name, string text) => File.WriteAllText(_folder.File(name), text);

    private Task<int> RunAsync(params string[] arguments) => RunAsync(
        (settings, _, _) =>
        {
            _settings = settings;
            return Task.FromResult<IReplayRun>(new Collecting(_frames));
        },
        arguments);

    private Task<int> RunAsync(StartReplay start, params string[] arguments) => RunAsync(start, CancellationToken.None, arguments);

    private Task<int> RunAsync(StartReplay start, CancellationToken cancellation, params string[] arguments)
    {
        var root = new RootCommand { ReplayCommand.Create(start, TimeProvider.System) };
        return root.Parse(["replay", .. arguments]).InvokeAsync(new InvocationConfiguration { Output = _output, Error = _error }, cancellation);
    }

    /// <summary>Takes frames down instead of processing them, and gives one cycle for each saw.</summary>
    private sealed class Collecting(List<string> frames) : IReplayRun
    {
        public Func<int, Task>? OnFrame { get; init; }

        public ValueTask WriteAsync(string saw, in SignalFrame frame, CancellationToken cancellation)
        {
            cancellation.ThrowIfCancellationRequested();
            frames.Add(string.Create(CultureInfo.InvariantCulture, $"{saw} {frame.Time.ToUnixTimeSeconds()} {frame.Number(Signal.MotorLoad)}"));
            return OnFrame is null ? ValueTask.CompletedTask : new ValueTask(OnFrame(frames.Count));
        }

        public Task CompleteAsync(CancellationToken cancellation) => Task.CompletedTask;

        public IRowSource Cycles() => new ListedCycles(
            frames.Select(frame => frame.Split(' ')).GroupBy(parts => parts[0]).Select(saw => new CycleRecord
            {
                CycleId = saw.Key,
                Saw = saw.Key,
                StartedAt = DateTimeOffset.FromUnixTimeSeconds(long.Parse(saw.First()[1], CultureInfo.InvariantCulture)),
                EndedAt = DateTimeOffset.UnixEpoch,
                Outcome = CutOutcome.Completed,
                Frames = saw.Count(),
            }).OrderBy(cycle => cycle.StartedAt));

        public IRowSource Alarms() => new NoRows(new TableHead("alarms", ExportTables.Alarms.Meaning, ExportTables.Alarms.Columns));

        public ValueTask DisposeAsync() => ValueTask.CompletedTask;
    }

    private sealed class NoRows(TableHead head) : IRowSource
    {
        public TableHead Head => head;

        public Task<long?> CountAsync(CancellationToken cancellation) => Task.FromResult<long?>(0);

        public Task FillAsync(RowBatch batch, CancellationToken cancellation) => Task.CompletedTask;
    }
}
