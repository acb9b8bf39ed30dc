using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Accounts.Reports;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Forwarding.DailyFiles;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Hosting.Standby;
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Hosting;

/// <summary>The two clocks of a gateway: they differ only where virtual time runs faster.</summary>
/// <param name="Machine">Clock of the saws: polls, frames.</param>
/// <param name="Wall">Clock of everything else: deliveries, retries.</param>
/// <param name="Boot">Tells from when the timestamps of <paramref name="Machine"/> count: the same for all processes since the machine was switched on, see <see cref="MachineBoot"/>. Null: not known.</param>
public sealed record GatewayClocks(TimeProvider Machine, TimeProvider Wall, string? Boot = null);

/// <summary>
/// Builds the rooms of the gateway in the order in which data flows, runs their loops, and ends them in that order, so
/// that a clean stop loses nothing. A loop that ends by itself ends the process.
/// </summary>
internal sealed class GatewayService : BackgroundService
{
    private static readonly TimeSpan LastDelivery = TimeSpan.FromSeconds(5);

    // How soon an entry about a blade is taken over that somebody made from outside.
    private static readonly TimeSpan BladeWatch = TimeSpan.FromSeconds(2);

    // With the last delivery less than the host's own patience, so that the end is this one and not a broken-off one.
    private static readonly TimeSpan LastStore = TimeSpan.FromSeconds(10);

    private readonly GatewayOptions _all;

    // What runs from the start: without the saws, where another gateway may watch them.
    private readonly GatewayOptions _options;
    private readonly IReadOnlyList<string> _recorded;
    private readonly GatewayClocks _clocks;
    private readonly SteadyClock _clock;
    private readonly ILoggerFactory _loggers;
    private readonly ILogger _logger;
    private readonly IHostApplicationLifetime _lifetime;
    private readonly Action<FinishedCut>? _onFinished;
    private readonly Action<AlarmEvent>? _onAlarm;
    private readonly ISystemdNotifier? _notifier;
    private readonly WatchedConfiguration? _configuration;
    private readonly GatewayFigures _figures = new();
    private StandbyLoop? _standby;

    /// <summary>Prepares the gateway.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="clocks">The clocks.</param>
    /// <param name="loggers">The loggers.</param>
    /// <param name="lifetime">Stops the process when a loop ends by itself.</param>
    /// <param name="onFinished">Told of each finished cut once it is on the disk, or null.</param>
    /// <param name="onAlarm">Told of what happens to alarms once it is on the disk, in place of the log; or null.</param>
    /// <param name="notifier">The way to the service manager, or null.</param>
    /// <param name="configuration">The file that the configuration came from, which is followed while the gateway runs; null: none.</param>
    public GatewayService(GatewayOptions options, GatewayClocks clocks, ILoggerFactory loggers, IHostApplicationLifetime lifetime, Action<FinishedCut>? onFinished = null, Action<AlarmEvent>? onAlarm = null, ISystemdNotifier? notifier = null, WatchedConfiguration? configuration = null)
    {
        _all = SourceLoops.Live(options);
        _options = _all.Standby is null ? _all : _all with { Saws = [] };
        _recorded = [.. options.Saws.Select(saw => saw.Name).Except(_all.Saws.Select(saw => saw.Name))];
        _clock = new SteadyClock(clocks.Machine, loggers.CreateLogger<SteadyClock>());
        _clocks = clocks with { Machine = _clock, Wall = ReferenceEquals(clocks.Machine, clocks.Wall) ? _clock : clocks.Wall };
        _loggers = loggers;
        _logger = loggers.CreateLogger<GatewayService>();
        _lifetime = lifetime;
        _onFinished = onFinished;
        _onAlarm = onAlarm;
        _notifier = notifier;
        _configuration = configuration;
    }

    /// <summary>The levels of the log, which are taken over when they change in the file; null: they stay.</summary>
    public LogLevels? LogLevels { get; init; }

    /// <summary>Why the gateway ended, where it was not asked to; it is in the log already.</summary>
    public Exception? Failure { get; private set; }

    /// <inheritdoc/>
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var otlp = _options.Telemetry.Otlp is { } receiver
            ? new OtlpSender(receiver, _options.Site, _options.Gateway, GatewayFigures.Version, [PollMetrics.Name], _clocks.Wall, _loggers.CreateLogger<OtlpSender>())
            : null;
        try
        {
            await RunAsync(otlp, stoppingToken);
        }
        catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
        {
            // Stopped on purpose before it had begun.
        }
        catch (Exception e) when (e is HistoryException or IOException)
        {
            // Its message is made for people: where, and what would help. Where in the program it was noticed helps nobody.
            Failure ??= e;
            HostingLog.HistoryUnusable(_logger, e.Message);
        }
        catch (Exception e)
        {
            Failure ??= e;
            HostingLog.LoopEnded(_logger, "the gateway", e);
        }

        // The next start looks through all of it, and sets it aside if that finds the damage too.
        if (Failure is HistoryCorruptException && !AsideFiles.Distrust(_options.DataFolder))
            HostingLog.NotDistrusted(_logger, _options.DataFolder);
        if (Failure is null)
            HostingLog.Stopped(_logger);
        else
            _lifetime.StopApplication();
    }

    private async Task RunAsync(OtlpSender? otlp, CancellationToken stop)
    {
        using var start = Spans.Root("start");
        using var database = HistoryDatabase.OpenOrBegin(_options.DataFolder, _clocks.Wall);
        HostingLog.Starting(_logger, _options.Gateway, _options.Site, _all.Saws.Count, database.Folder);
        if (DataDisk.RoomTrouble(database.Folder, _options.History.BudgetBytes, HistoryDatabase.FileName) is { } room)
            HostingLog.DiskIsSmall(_logger, room);
        foreach (var saw in _recorded)
            HostingLog.ReplayOnly(_logger, saw);
        if (database.Damage is { } damage)
            HostingLog.HistoryDamaged(_logger, damage.Finding, damage.File);
        else if (database.EndedUncleanly)
            HostingLog.EndedUncleanly(_logger);
        var writer = new HistoryWriter(database, _clocks.Wall, _loggers.CreateLogger<HistoryWriter>());
        var reader = new HistoryReader(database);
        _clock.Know(await StoredUntilAsync(reader, stop));
        using var recording = OpenRecording();
        using var stopSources = CancellationTokenSource.CreateLinkedTokenSource(stop);
        using var stopForwarding = new CancellationTokenSource();
        using var atOnce = new CancellationTokenSource();
        var guard = new LoopGuard(stopSources, failure => Failure ??= failure, _logger);
        var jobs = new FollowedJobs(_options, _clocks.Wall, _loggers.CreateLogger<JobList>());
        var live = new LiveSaws(_options.Saws.Select(saw => saw.Name), _clocks.Machine);
        var watch = new LoopWatch(_clocks.Wall);
        var saws = new RunningSaws(_clocks, _loggers, guard)
        {
            Reader = reader,
            Writer = writer,
            Queue = new AlarmQueue(),
            Live = live,
            Watch = watch,
            Recording = recording,
            OnFinished = Finished,
            Doubt = () => _clock.Doubt,
            AtOnce = atOnce.Token,
        };
        jobs.OnChange = saws.OfferJobs;
        saws.Prepare(_options, jobs.Book);

        var destinations = _options.Influx.Select(influx => new Destination(influx, _clocks.Wall, _loggers.CreateLogger<Destination>())).ToList();
        var stopNames = new StopNames(reader, writer);
        var lanes = destinations.SelectMany(destination => DestinationLanes.Of(destination, _options.Site, _options.Gateway, reader, writer, stopNames)).ToList();
        var journalLanes = lanes.OfType<JournalLane>().ToList();
        writer.SamplesAreWanted = lanes.OfType<SignalLane>().Any();
        var channels = Channels.Build(_options, reader, writer, _clocks.Wall, _loggers.CreateLogger<ChannelLoop>());
        var refusals = new RefusalCounts(reader, [.. destinations.Select(destination => destination.Name), .. channels.Select(channel => channel.Name)], _clocks.Wall, _loggers.CreateLogger<RefusalCounts>());
        var standings = new DeliveryStandings(reader, lanes, _clocks.Wall, _loggers.CreateLogger<DeliveryStandings>());
        var keeping = new HistoryKeeping(writer, reader, _options.Signals.Keep, _options.History, HistoryTakers.Of(_options.Influx), _clocks.Machine, _loggers.CreateLogger<HistoryKeeping>(), () => _clock.IsFitForClearing);
        IEnumerable<AlarmProbe> Probes(GatewayOptions options) =>
        [
            .. GatewayProbes.Itself(options, writer, keeping, saws.Inboxes, _clock),
            .. GatewayProbes.Communication(options, saws.Presences),
            .. GatewayProbes.Destinations(destinations, refusals),
            .. GatewayProbes.Channels(channels, refusals),
        ];
        OeeService Figures(GatewayOptions options) => new(options, reader, writer, _clocks.Machine, _clocks.Wall);
        OeeWatch Oee(GatewayOptions options) => new(options, Figures(options), _clocks.Machine, _loggers.CreateLogger<OeeWatch>());
        var oee = Oee(_options);
        var oeeLoop = new ExchangeableLoop(oee.RunAsync);
        var alarms = new AlarmRoom(_options, [.. Probes(_options), .. oee.Probes], reader, writer, saws.Queue, _clocks.Machine, _loggers, _onAlarm);
        var daily = _options.DailyFiles.Select(files => new DailyFilesLoop(files, _options.TimeZone, reader, writer, live.AreSettled, _clocks.Machine, _clocks.Wall, _loggers.CreateLogger<DailyFilesLoop>())).ToList();
        watch.Add("writing the history", () => new LoopState(writer.Transactions, writer.Waiting > 0 && !writer.InTrouble));
        (_figures.Options, _figures.Writer, _figures.Keeping, _figures.Standings, _figures.Lanes, _figures.Channels) = (_options, writer, keeping, standings, journalLanes, channels);
        (_figures.Inboxes, _figures.Presences, _figures.Polls, _figures.AlarmsWaiting) = (() => saws.Inboxes, () => saws.Presences.Values, () => saws.Polls, () => saws.Queue.Waiting);
        (_figures.ClockIsDoubtful, _figures.Hangs) = (() => _clock.Doubt is not null, () => watch.Hanging is not null);
        (_figures.Standby, _figures.LeftOut) = (() => _standby?.Word, () => saws.All.Select(saw => (saw.Name, saw.Processor.LeftOut)));
        var api = ContextOf(reader, writer, jobs, live, watch);

        var history = guard.WatchAsync("writing the history", writer.RunAsync(atOnce.Token));
        var record = recording is null ? Task.CompletedTask : guard.WatchAsync("recording", recording.RunAsync(CancellationToken.None));
        saws.StartProcessing();
        var desk = guard.WatchAsync("the alarms", alarms.Desk.RunAsync(stopSources.Token, atOnce.Token));
        var forward = lanes.ConvertAll(lane => guard.WatchAsync($"forwarding to {lane.Name}", lane.RunAsync(stopForwarding.Token)));
        forward.AddRange(daily.Select(files => guard.WatchAsync($"daily files {files.Name}", files.RunAsync(stopForwarding.Token))));
        forward.AddRange(channels.Select(channel => guard.WatchAsync($"messages by {channel.Name}", channel.RunAsync(stopForwarding.Token))));
        saws.StartSources(_options);

        // Whether a destination wants it or not: 'sawedge status' asks for the last report.
        var health = new HealthWatch(_options, reader, writer, _clocks, _loggers.CreateLogger<HealthWatch>())
        {
            Saws = () => saws.All.Select(saw => new SawFeed(saw.Inbox, saw.Presence, saw.Polls)),
            CyclesOf = _figures.CyclesOf,
            BudgetShare = () => keeping.Share,
            Standby = () => _standby?.Word,
            Lanes = lanes,
        };
        var loops = new List<(string What, Func<CancellationToken, Task> Run)>
        {
            ("looking for entries about blades", stop => FollowBladesAsync(reader, saws, stop)),
            ("working out OEE for the alarms", oeeLoop.RunAsync),
            ("looking at the gateway's own health", health.RunAsync),
            ("watching the loops", new ServiceWatchdog(watch, _notifier, _clocks.Wall, _logger, ServiceWatchdog.Asked(Environment.GetEnvironmentVariable("WATCHDOG_USEC"), Environment.GetEnvironmentVariable("WATCHDOG_PID"))).RunAsync),
            ("clearing away what is old", keeping.RunAsync),
            ("counting what waits", standings.RunAsync),
            ("counting what was refused", refusals.RunAsync),
            ("following the job list", jobs.RunAsync),
        };
        loops.AddRange(ApiHost.Build(api, _options.Alarms.AnswerLinks is null ? null : LinkSigner.Open(_options.DataFolder)).Select(host => ("serving people", (Func<CancellationToken, Task>)host.RunAsync)));
        if (otlp is not null)
            loops.Add(("telling others how the gateway is", stop => otlp.RunAsync(token => GatewayFigures.MeasureAsync(api, token), stop)));
        var exchangeable = new List<(ExchangeableLoop Loop, Func<GatewayOptions, Func<CancellationToken, Task>> Of)>();
        void AddFigures(string what, Func<GatewayOptions, Func<CancellationToken, Task>> of)
        {
            exchangeable.Add((new ExchangeableLoop(of(_options)), of));
            loops.Add((what, exchangeable[^1].Loop.RunAsync));
        }

        if (lanes.OfType<HoursLane>().Any())
            AddFigures("working out the figures of the hours", options => new OeeHours(Figures(GatewayChanges.WithShifts(options)), GatewayChanges.WithShifts(options), reader, writer, _clocks.Machine, _loggers.CreateLogger<OeeHours>()).RunAsync);
        if (_options.Reports.Count > 0)
            AddFigures("writing reports", options => new ReportSchedule(options, Figures(options), new ReportReader(options, Figures(options), reader, (saw, _) => Task.FromResult(live.Blades(saw))), _clocks.Machine, _loggers.CreateLogger<ReportSchedule>()).RunAsync);
        using var changes = new GatewayChanges
        {
            File = _configuration?.Path ?? "",
            Start = _all,
            Watched = _all.Standby is null ? null : new HashSet<string>(),
            Saws = saws,
            Jobs = jobs,
            Alarms = alarms,
            Probes = Probes,
            Oee = Oee,
            OeeLoop = oeeLoop,
            Figures = exchangeable,
            Api = api,
            Destinations = new DestinationsAgain(_configuration?.Path ?? "", destinations, _loggers.CreateLogger<DestinationsAgain>()),
            LogLevels = options => LogLevels?.TakeOver(options.Logging, _loggers),
            Recorded = recording is null ? null : SourceLoops.MappedSignals(_all).ToHashSet(),
            Logger = _loggers.CreateLogger<GatewayChanges>(),
        };
        if (_configuration is not null)
            loops.Add(("following the configuration", new ConfigurationAgain(_configuration, changes.TakeOverAsync, _clocks.Wall, _loggers.CreateLogger<ConfigurationAgain>(), () => !writer.InTrouble).RunAsync));
        if (_all.Standby is { } standby)
            loops.Add(("watching the saws in turns", (_standby = new StandbyLoop(standby, _all, _clocks.Wall, _loggers.CreateLogger<StandbyLoop>()) { Saws = saws, Changes = changes }).RunAsync));

        // From the saws outward: nothing is closed while something may still flow into it.
        var running = loops.ConvertAll(loop => guard.WatchAsync(loop.What, loop.Run(stopSources.Token)));
        start?.Stop();
        await Task.WhenAll(running);
        await saws.SourcesEndAsync();
        var process = saws.EndAsync();
        var stored = await EndsInTimeAsync(EndAsync(process, saws.Queue, desk));
        recording?.Complete();
        await record;
        if (stored)
            await DeliverLastAsync([.. journalLanes.Select(lane => (lane.Name, (Func<long>)(() => lane.Cursor))), .. channels.Select(channel => (channel.Name, (Func<long>)(() => channel.Cursor))), .. daily.Select(files => (files.Name, (Func<long>)(() => files.Cursor)))], writer);
        await stopForwarding.CancelAsync();
        await Task.WhenAll(forward);
        destinations.ForEach(destination => destination.Dispose());
        foreach (var channel in channels)
            await channel.DisposeAsync();
        writer.Complete();
        if (stored && await EndsInTimeAsync(history))
            return;

        // The disk refuses. Whoever waits for it is told to give up; the writer tries a last time.
        await atOnce.CancelAsync();
        await Task.WhenAll(process, desk);
        await history;
        if (Failure is null)
            throw new HistoryException($"Stopped although the history in '{database.Folder}' could not be written for the last {LastStore.TotalSeconds} s: cuts that were finished or open since that trouble began are missing.");
    }

    // As far as saws were seen by the gateway's own clock: that of a controller may be ahead of it.
    private async Task<DateTimeOffset?> StoredUntilAsync(HistoryReader reader, CancellationToken cancellation)
    {
        DateTimeOffset? until = null;
        foreach (var saw in _all.Saws.Where(saw => !SourceLoops.BringsTimes(saw)))
        {
            if (await reader.LastStateAsync(saw.Name, cancellation) is { } last && !(last.To <= until))
                until = last.To;
        }

        return until;
    }

    // What the last frames bring about is still told to the alarms.
    private static async Task EndAsync(Task process, AlarmQueue queue, Task desk)
    {
        await process;
        queue.Complete();
        await desk;
    }

    private async Task<bool> EndsInTimeAsync(Task task)
    {
        try
        {
            await task.WaitAsync(LastStore, _clocks.Wall);
            return true;
        }
        catch (TimeoutException)
        {
            return false;
        }
    }

    private RecordingSink? OpenRecording() => _options.Record is { } record
        ? new RecordingSink(record, SourceLoops.MappedSignals(_all), _clocks.Machine, _loggers.CreateLogger<RecordingSink>())
        : null;

    private ApiContext ContextOf(HistoryReader reader, HistoryWriter writer, FollowedJobs jobs, LiveSaws live, LoopWatch watch) => new()
    {
        Options = _all,
        Reader = reader,
        Writer = writer,
        Time = _clocks.Wall,
        Machine = _clocks.Machine,
        Loggers = _loggers,
        Live = live,
        Jobs = () => jobs.Book,
        Metrics = _figures.Read,
        Hanging = () => watch.Hanging,
        Standby = () => _standby?.Word,
    };

    private void Finished(FinishedCut finished)
    {
        _figures.Finished(finished.Record);
        _onFinished?.Invoke(finished);
    }

    // One cheap question for all saws.
    private async Task FollowBladesAsync(HistoryReader reader, RunningSaws saws, CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(BladeWatch, _clocks.Wall);
        var inTrouble = false;
        while (await look.WaitForNextTickAsync(cancellation))
        {
            try
            {
                var newest = await reader.LastBladeEntryAsync(cancellation);
                saws.OfferEntries(newest);
                inTrouble = false;
            }
            catch (HistoryException e) when (e is not HistoryCorruptException)
            {
                if (!inTrouble)
                    HostingLog.BladesUnread(_logger, e.Message);
                inTrouble = true;
            }
        }
    }

    private async Task DeliverLastAsync(IReadOnlyList<(string Name, Func<long> Cursor)> consumers, HistoryWriter writer)
    {
        using var patience = new CancellationTokenSource(LastDelivery, _clocks.Wall);
        using var look = new PeriodicTimer(TimeSpan.FromMilliseconds(50), _clocks.Wall);
        try
        {
            foreach (var (name, cursor) in consumers)
            {
                if (cursor() < writer.Journal.Last)
                    HostingLog.LastDelivery(_logger, name, LastDelivery.TotalSeconds);
                while (cursor() < writer.Journal.Last)
                    await look.WaitForNextTickAsync(patience.Token);
            }
        }
        catch (OperationCanceledException)
        {
            // The server does not answer; the cursor stays, and the rest goes out after the next start.
        }
    }
}
