using System.Threading.Channels;
using Microsoft.Extensions.Logging.Abstractions;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Commands;

/// <summary>
/// Recorded frames through the pipelines and the history of live operation. Reading and processing run side by side;
/// frames pass in batches, in order, so that the same recordings always give the same history.
/// </summary>
internal sealed class ReplayRun : IReplayRun
{
    private const int BatchSize = 2048;
    private const int CommitSize = 256;

    private readonly HistoryDatabase _database;
    private readonly HistoryWriter _writer;
    private readonly HistoryReader _reader;
    private readonly IReadOnlyDictionary<string, SawOptions> _saws;
    private readonly JobBook _jobs;
    private readonly Channel<Batch> _full = Channel.CreateBounded<Batch>(new BoundedChannelOptions(4) { SingleReader = true, SingleWriter = true });
    private readonly Channel<Batch> _empty = Channel.CreateUnbounded<Batch>();
    private readonly LoadSettings _settings;
    private readonly TimeSpan? _sampleEvery;
    private readonly ReplayAlarms _alarms;
    private readonly Dictionary<string, ReplayedSaw> _pipelines = new(StringComparer.Ordinal);
    private readonly List<FinishedCut> _finished = [];
    private readonly List<FinishedCycle> _uncommitted = new(CommitSize);
    private readonly Task _writing;
    private readonly Task _processing;
    private Batch _filling = new();

    private ReplayRun(ReplaySettings settings, GatewayOptions? options, JobBook jobs, TimeProvider time)
    {
        IReadOnlyList<SawOptions> saws = options?.Saws ?? [];
        _alarms = new ReplayAlarms(options);
        _settings = options?.LoadScore ?? new LoadSettings();
        _sampleEvery = (options?.Signals ?? new SignalOptions()).Every;
        _saws = saws.ToDictionary(saw => saw.Name, StringComparer.Ordinal);
        _jobs = jobs;
        _database = HistoryDatabase.Open(settings.OutFolder);
        _writer = new HistoryWriter(_database, time, NullLogger<HistoryWriter>.Instance);
        _reader = new HistoryReader(_database);
        for (var i = 0; i < 4; i++)
            _empty.Writer.TryWrite(new Batch());
        _writing = Task.Run(() => _writer.RunAsync(CancellationToken.None));
        _processing = Task.Run(ProcessAsync);
    }

    /// <summary>Reads the jobs and opens the history.</summary>
    /// <param name="settings">What was asked for.</param>
    /// <param name="options">The configuration, or null.</param>
    /// <param name="time">Clock of the history's retries.</param>
    /// <param name="say">Told of rows of the job list that are refused; the others serve.</param>
    /// <param name="cancellation">Ends the start.</param>
    /// <exception cref="CommandException">The job list cannot be used.</exception>
    public static async Task<IReplayRun> StartAsync(ReplaySettings settings, GatewayOptions? options, TimeProvider time, Action<string> say, CancellationToken cancellation)
    {
        var jobs = (settings.JobsFile ?? options?.JobsFile) is { } file ? await ReadJobsAsync(file, options?.Catalogue ?? MaterialCatalogue.BuiltIn, say, cancellation) : JobBook.Empty;
        return new ReplayRun(settings, options, jobs, time);
    }

    /// <summary>Reads a job list.</summary>
    /// <param name="file">The file.</param>
    /// <param name="catalogue">Where its materials are looked up.</param>
    /// <param name="say">Told of rows that are refused; the others serve.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="CommandException">The file cannot be read.</exception>
    public static async Task<JobBook> ReadJobsAsync(string file, MaterialCatalogue catalogue, Action<string> say, CancellationToken cancellation)
    {
        var parse = JobList.Parse(file, await ReadAsync(file, cancellation), catalogue);
        foreach (var error in parse.Errors)
            say($"{file}, {error}");
        return parse.Book;
    }

    /// <inheritdoc/>
    public ValueTask WriteAsync(string saw, in SignalFrame frame, CancellationToken cancellation)
    {
        _filling.Items[_filling.Count++] = (saw, frame);
        return _filling.Count < BatchSize ? ValueTask.CompletedTask : HandOverAsync(cancellation);
    }

    /// <inheritdoc/>
    public async Task CompleteAsync(CancellationToken cancellation)
    {
        await HandOverAsync(cancellation);
        _full.Writer.TryComplete();
        await _processing.WaitAsync(cancellation);
    }

    /// <inheritdoc/>
    public IRowSource Cycles() => ExportSources.Open(_reader, new ExportQuestion { Table = ExportTables.Find("cycles")! });

    /// <inheritdoc/>
    public IRowSource Alarms() => ExportSources.Open(_reader, new ExportQuestion { Table = ExportTables.Alarms });

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        _full.Writer.TryComplete();
        try
        {
            await _processing;
        }
        finally
        {
            _writer.Complete();
            await _writing;
            _database.Dispose();
        }
    }

    /// <summary>Reads a configuration.</summary>
    /// <exception cref="CommandException">It cannot be used.</exception>
    public static GatewayOptions Load(string config)
    {
        var loaded = ConfigurationFile.Load(config, ConfigurationFile.Environment());
        return loaded.Options ?? throw new CommandException(
            $"{config}: {string.Join($"{Environment.NewLine}{config}: ", loaded.Errors)}{Environment.NewLine}'check {config}' says more.");
    }

    private static async Task<string> ReadAsync(string file, CancellationToken cancellation)
    {
        try
        {
            return await File.ReadAllTextAsync(file, cancellation);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"{file}: {e.Message}", e);
        }
    }

    private async ValueTask HandOverAsync(CancellationToken cancellation)
    {
        if (_processing.IsFaulted)
            await _processing;
        await _full.Writer.WriteAsync(_filling, cancellation);
        _filling = await _empty.Reader.ReadAsync(cancellation);
    }

    private async Task ProcessAsync()
    {
        try
        {
            await foreach (var batch in _full.Reader.ReadAllAsync())
            {
                for (var i = 0; i < batch.Count; i++)
                    await TakeAsync(batch.Items[i].Saw, batch.Items[i].Frame);
                batch.Count = 0;
                await _empty.Writer.WriteAsync(batch);
                if (_uncommitted.Count >= CommitSize || _alarms.Waiting >= CommitSize)
                    await CommitAsync(isLast: false);
                foreach (var saw in _pipelines.Values)
                {
                    if (saw.Samples?.Waiting >= CommitSize)
                        await saw.Samples.StoreAsync(CancellationToken.None);
                }
            }

            foreach (var saw in _pipelines.Values)
            {
                saw.Pipeline.Complete();
                Collect(saw);
                saw.Samples?.Complete();
                await (saw.Samples?.StoreAsync(CancellationToken.None) ?? Task.CompletedTask);
            }

            await CommitAsync(isLast: true);
            foreach (var saw in _pipelines.Values)
                await _writer.SaveMemoryAsync(saw.Pipeline.Saw, MemoryCodec.Encode(saw.Pipeline.Save(), 0, saw.Storage.SinceCheckpoint), CancellationToken.None);
        }
        catch (Exception e)
        {
            // Whoever waits for a free batch must hear of it.
            _empty.Writer.TryComplete(e);
            throw;
        }
    }

    private ValueTask TakeAsync(string saw, SignalFrame frame)
    {
        if (!_pipelines.TryGetValue(saw, out var known))
        {
            known = Begin(saw);
            _pipelines.Add(saw, known);
        }

        // A recording of this gateway has them already; a log from elsewhere has not.
        foreach (var flag in known.Derived)
            flag.Apply(ref frame);
        known.Ahead ??= _alarms.Ahead(frame.Time);
        _alarms.Pass(frame.Time - known.Ahead.Value);
        known.Pipeline.Push(frame);
        if (known.Pipeline.TookLast)
            known.Watch.Push(frame, known.Pipeline.Phase, known.Pipeline.IdleKw);
        Collect(known);
        return known.Samples?.PushAsync(frame, _reader, CancellationToken.None) ?? ValueTask.CompletedTask;
    }

    private ReplayedSaw Begin(string name)
    {
        var options = _saws.GetValueOrDefault(name);
        return new ReplayedSaw(
            new SawPipeline(options?.Machine ?? new SawMachine { Name = name }, _jobs, options?.Blade, _settings),
            new CutStorage(options?.Blade),
            _sampleEvery is { } every ? new SawSamples(name, every, _writer, NullLogger.Instance) : null,
            _alarms.For(name),
            [.. (options?.Derived ?? []).Select(rule => new DerivedFlag(rule))]);
    }

    // In the order of live operation: what the frame says, what was found in it, what it ended.
    private void Collect(ReplayedSaw saw)
    {
        while (saw.Pipeline.TryTakeFinding(out var finding))
            saw.Watch.Take(finding);
        while (saw.Pipeline.TryTake(out var cut))
            _finished.Add(cut);
        if (_finished.Count > 0)
        {
            _uncommitted.AddRange(saw.Storage.Rows(_finished, saw.Pipeline.Recorder));
            foreach (var cut in _finished.Where(cut => !(cut.Record.StartedAt <= saw.LastFinished)))
            {
                // One that was handed out before is corrected, and no news.
                saw.LastFinished = cut.Record.StartedAt;
                saw.Watch.Take(cut.Record, cut.Assessment);
            }

            _finished.Clear();
        }

        _alarms.Take(saw.Watch);
    }

    private async Task CommitAsync(bool isLast)
    {
        if (_uncommitted.Count > 0)
            await _writer.AppendAsync([.. _uncommitted], CancellationToken.None);
        _uncommitted.Clear();
        await _alarms.StoreAsync(_writer, isLast);
    }

    private sealed record ReplayedSaw(SawPipeline Pipeline, CutStorage Storage, SawSamples? Samples, SawAlarmWatch Watch, DerivedFlag[] Derived)
    {
        public DateTimeOffset? LastFinished { get; set; }

        /// <summary>By how much its clock is ahead of the others.</summary>
        public TimeSpan? Ahead { get; set; }
    }

    private sealed class Batch
    {
        public (string Saw, SignalFrame Frame)[] Items { get; } = new (string, SignalFrame)[BatchSize];

        public int Count { get; set; }
    }
}
