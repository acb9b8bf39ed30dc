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
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Processing.Alarms;
using SawEdge.Gateway.Telemetry;

namespace SawEdge.Gateway.Hosting;

/// <summary>The two clocks of a gateway: they differ only where virtual time runs faster.</summary>
/// <param name="Machine">Clock of the saws: polls, frames.</param>
/// <param name="Wall">Clock of everything else: deliveries, retries.</param>
public sealed record GatewayClocks(TimeProvider Machine, TimeProvider Wall);

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
    private readonly SharedBlades _sharedBlades = new();
    private readonly GatewayFigures _figures = new();

    /// <summary>Prepares the gateway.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="clocks">The clocks.</param>
    /// <param name="loggers">The loggers.</param>
    /// <param name="lifetime">Stops the process when a loop ends by itself.</param>
    /// <param name="onFinished">Told of each finished cut once it is on the disk, or null.</param>
    /// <param name="onAlarm">Told of what happens to alarms once it is on the disk, in place of the log; or null.</param>
    /// <param name="notifier">The way to the service manager, or null.</param>
    /// <param name="configuration">The file that the configuration came from, whose destinations are taken over when they change; null: none.</param>
    public GatewayService(GatewayOptions options, GatewayClocks clocks, ILoggerFactory loggers, IHostApplicationLifetime lifetime, Action<FinishedCut>? onFinished = null, Action<AlarmEvent>? onAlarm = null, ISystemdNotifier? notifier = null, WatchedConfiguration? configuration = null)
    {
        _options = SourceLoops.Live(options);
        _recorded = [.. options.Saws.Select(saw => saw.Name).Except(_options.Saws.Select(saw => saw.Name))];
        _clock = new SteadyClock(clocks.Machine, loggers.CreateLogger<SteadyClock>());
        _clocks = new GatewayClocks(_clock, ReferenceEquals(clocks.Machine, clocks.Wall) ? _clock : clocks.Wall);
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
        HostingLog.Starting(_logger, _options.Gateway, _options.Site, _options.Saws.Count, database.Folder);
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
        var jobs = LoadJobs();
        using var recording = OpenRecording();

        var presences = _options.Saws.ToDictionary(saw => saw.Name, saw => new SawPresence(saw.Name, saw.MappedSignals, saw.Interval, _clocks.Machine, SourceLoops.PublishesChanges(saw)), StringComparer.Ordinal);
        var inboxes = _options.Saws.ToDictionary(saw => saw.Name, saw => new SawInbox(saw.Name, presence: presences[saw.Name], derived: saw.Derived) { Clock = SourceLoops.BringsTimes(saw) ? null : new FrameClock(_clock) }, StringComparer.Ordinal);
        var destinations = _options.Influx.Select(influx => new Destination(influx, _clocks.Wall, _loggers.CreateLogger<Destination>())).ToList();
        var stopNames = new StopNames(reader, writer);
        var lanes = destinations.SelectMany(destination => DestinationLanes.Of(destination, _options.Site, _options.Gateway, reader, writer, stopNames)).ToList();
        var journalLanes = lanes.OfType<JournalLane>().ToList();
        writer.SamplesAreWanted = lanes.OfType<SignalLane>().Any();
        var oeeFigures = new OeeService(_options, reader, writer, _clocks.Machine, _clocks.Wall);
        var told = WithShifts(_options);
        var hours = new OeeHours(new OeeService(told, reader, writer, _clocks.Machine, _clocks.Wall), told, reader, writer, _clocks.Machine, _loggers.CreateLogger<OeeHours>());
        var channels = Channels.Build(_options, reader, writer, _clocks.Wall, _loggers.CreateLogger<ChannelLoop>());
        var refusals = new RefusalCounts(reader, [.. destinations.Select(destination => destination.Name), .. channels.Select(channel => channel.Name)], _clocks.Wall, _loggers.CreateLogger<RefusalCounts>());
        var standings = new DeliveryStandings(reader, lanes, _clocks.Wall, _loggers.CreateLogger<DeliveryStandings>());
        var keeping = new HistoryKeeping(writer, reader, _options.Signals.Keep, _options.History, HistoryTakers.Of(_options.Influx), _clocks.Machine, _loggers.CreateLogger<HistoryKeeping>(), () => _clock.IsFitForClearing);
        var oee = new OeeWatch(_options, oeeFigures, _clocks.Machine, _loggers.CreateLogger<OeeWatch>());
        AlarmProbe[] probes =
        [
            .. GatewayProbes.Itself(_options, writer, keeping, inboxes.Values, _clock),
            .. GatewayProbes.Communication(_options, presences),
            .. GatewayProbes.Destinations(destinations, refusals),
            .. GatewayProbes.Channels(channels, refusals),
            .. oee.Probes,
        ];
        var alarms = new AlarmRoom(_options, probes, reader, writer, _clocks.Machine, _loggers, _onAlarm);
        var live = new LiveSaws(_options.Saws.Select(saw => saw.Name), _clocks.Machine);
        var processors = _options.Saws.Select(saw => NewProcessor(saw, inboxes[saw.Name], jobs?.Book ?? JobBook.Empty, writer, recording, alarms, live)).ToList();
        var daily = _options.DailyFiles.Select(files => new DailyFilesLoop(files, _options.TimeZone, reader, writer, live.AreSettled, _clocks.Machine, _clocks.Wall, _loggers.CreateLogger<DailyFilesLoop>())).ToList();
        var watch = new LoopWatch(_clocks.Wall);
        // While the disk refuses, writing and processing wait for it: it has an alarm of its own.
        watch.Add("writing the history", () => new LoopState(writer.Transactions, writer.Waiting > 0 && !writer.InTrouble));
        foreach (var processor in processors)
            watch.Add($"processing of {processor.Pipeline.Saw}", () => new LoopState(processor.Turns, inboxes[processor.Pipeline.Saw].Waiting > 0 && !writer.InTrouble));
        (_figures.Options, _figures.Writer, _figures.Keeping, _figures.Standings, _figures.Lanes, _figures.Channels) = (_options, writer, keeping, standings, journalLanes, channels);
        (_figures.Inboxes, _figures.Presences, _figures.AlarmsWaiting) = (() => inboxes.Values, () => presences.Values, () => alarms.Queue.Waiting);
        (_figures.ClockIsDoubtful, _figures.Hangs) = (() => _clock.Doubt is not null, () => watch.Hanging is not null);
        var context = NewContext(reader, writer, jobs, live, watch);
        var served = ApiHost.Build(context, _options.Alarms.AnswerLinks is null ? null : LinkSigner.Open(_options.DataFolder));

        using var stopSources = CancellationTokenSource.CreateLinkedTokenSource(stop);
        using var stopForwarding = new CancellationTokenSource();
        using var atOnce = new CancellationTokenSource();
        var history = Watch("writing the history", writer.RunAsync(atOnce.Token), stopSources);
        var record = recording is null ? Task.CompletedTask : Watch("recording", recording.RunAsync(CancellationToken.None), stopSources);
        var process = processors.Select(processor => Watch($"processing of {processor.Pipeline.Saw}", processor.RunAsync(reader, atOnce.Token), stopSources)).ToList();
        var desk = Watch("the alarms", alarms.Desk.RunAsync(stopSources.Token, atOnce.Token), stopSources);
        var forward = lanes.ConvertAll(lane => Watch($"forwarding to {lane.Name}", lane.RunAsync(stopForwarding.Token), stopSources));
        forward.AddRange(daily.Select(files => Watch($"daily files {files.Name}", files.RunAsync(stopForwarding.Token), stopSources)));
        forward.AddRange(channels.Select(channel => Watch($"messages by {channel.Name}", channel.RunAsync(stopForwarding.Token), stopSources)));
        var loops = SourceLoops.Build(_options, inboxes, _clocks.Machine, _loggers).ToList();
        var sources = loops.ConvertAll(source => Watch(source.What, source.Run(stopSources.Token), stopSources));
        sources.Add(Watch("looking for entries about blades", FollowBladesAsync(reader, processors, stopSources.Token), stopSources));
        sources.Add(Watch("working out OEE for the alarms", oee.RunAsync(stopSources.Token), stopSources));
        if (lanes.OfType<HoursLane>().Any())
            sources.Add(Watch("working out the figures of the hours", hours.RunAsync(stopSources.Token), stopSources));
        // Whether a destination wants it or not: 'sawedge status' asks for the last report.
        var polls = loops.SelectMany(source => source.Counters).ToDictionary(StringComparer.Ordinal);
        _figures.Polls = () => polls;
        var health = new HealthWatch(_options, reader, writer, _clocks, _loggers.CreateLogger<HealthWatch>())
        {
            Inboxes = inboxes,
            Presences = presences,
            Polls = polls,
            CyclesOf = _figures.CyclesOf,
            BudgetShare = () => keeping.Share,
            Lanes = lanes,
        };
        sources.Add(Watch("looking at the gateway's own health", health.RunAsync(stopSources.Token), stopSources));

        if (_options.Reports.Count > 0)
        {
            var reports = new ReportReader(_options, oeeFigures, reader, (saw, _) => Task.FromResult(live.Blades(saw)));
            sources.Add(Watch("writing reports", new ReportSchedule(_options, oeeFigures, reports, _clocks.Machine, _loggers.CreateLogger<ReportSchedule>()).RunAsync(stopSources.Token), stopSources));
        }

        sources.Add(Watch("watching the loops", new ServiceWatchdog(watch, _notifier, _clocks.Wall, _logger, ServiceWatchdog.Asked(Environment.GetEnvironmentVariable("WATCHDOG_USEC"), Environment.GetEnvironmentVariable("WATCHDOG_PID"))).RunAsync(stopSources.Token), stopSources));
        sources.Add(Watch("clearing away what is old", keeping.RunAsync(stopSources.Token), stopSources));
        sources.Add(Watch("counting what waits", standings.RunAsync(stopSources.Token), stopSources));
        if (_configuration is not null)
            sources.Add(Watch("following the configuration of the destinations", new DestinationsAgain(_configuration, destinations, _clocks.Wall, _loggers.CreateLogger<DestinationsAgain>()) { OnTaken = taken => LogLevels?.TakeOver(taken.Logging, _loggers) }.RunAsync(stopSources.Token), stopSources));
        sources.Add(Watch("counting what was refused", refusals.RunAsync(stopSources.Token), stopSources));
        sources.AddRange(served.Select(host => Watch("serving people", host.RunAsync(stopSources.Token), stopSources)));
        if (otlp is not null)
            sources.Add(Watch("telling others how the gateway is", otlp.RunAsync(token => GatewayFigures.MeasureAsync(context, token), stopSources.Token), stopSources));
        if (jobs is not null)
            sources.Add(Watch("following the job list", jobs.FollowAsync(book => processors.ForEach(p => p.Pipeline.Jobs = book), stopSources.Token), stopSources));

        start?.Stop();

        // From the saws outward: nothing is closed while something may still flow into it.
        await Task.WhenAll(sources);
        foreach (var inbox in inboxes.Values)
            inbox.Complete();
        var stored = await EndsInTimeAsync(EndAsync(process, alarms.Queue, desk));
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
        await Task.WhenAll([.. process, desk]);
        await history;
        if (Failure is null)
            throw new HistoryException($"Stopped although the history in '{database.Folder}' could not be written for the last {LastStore.TotalSeconds} s: cuts that were finished or open since that trouble began are missing.");
    }

    // As far as saws were seen by the gateway's own clock: that of a controller may be ahead of it.
    private async Task<DateTimeOffset?> StoredUntilAsync(HistoryReader reader, CancellationToken cancellation)
    {
        DateTimeOffset? until = null;
        foreach (var saw in _options.Saws.Where(saw => !SourceLoops.BringsTimes(saw)))
        {
            if (await reader.LastStateAsync(saw.Name, cancellation) is { } last && !(last.To <= until))
                until = last.To;
        }

        return until;
    }

    // Without a calendar no time is planned; what saws do is told all the same.
    private static GatewayOptions WithShifts(GatewayOptions options) =>
        options.Calendar is null ? options with { Calendar = new CalendarOptions(new ShiftCalendar(new CalendarPlan { Zone = options.TimeZone }), new OeeSettings()) } : options;

    // What the last frames bring about is still told to the alarms.
    private static async Task EndAsync(IEnumerable<Task> process, AlarmQueue queue, Task desk)
    {
        await Task.WhenAll(process);
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

    private JobList? LoadJobs()
    {
        if (_options.JobsFile is not { } file)
            return null;
        var jobs = new JobList(file, _clocks.Wall, _loggers.CreateLogger<JobList>(), _options.Catalogue);
        jobs.Load();
        return jobs;
    }

    private RecordingSink? OpenRecording() => _options.Record is { } record
        ? new RecordingSink(record, SourceLoops.MappedSignals(_options), _clocks.Machine, _loggers.CreateLogger<RecordingSink>())
        : null;

    private ApiContext NewContext(HistoryReader reader, HistoryWriter writer, JobList? jobs, LiveSaws live, LoopWatch watch) => new()
    {
        Options = _options,
        Reader = reader,
        Writer = writer,
        Time = _clocks.Wall,
        Machine = _clocks.Machine,
        Loggers = _loggers,
        Live = live,
        Jobs = () => jobs?.Book ?? JobBook.Empty,
        Metrics = _figures.Read,
        Hanging = () => watch.Hanging,
    };

    private SawProcessor NewProcessor(SawOptions saw, SawInbox inbox, JobBook jobs, HistoryWriter writer, RecordingSink? recording, AlarmRoom alarms, LiveSaws live) =>
        new(
            inbox,
            new SawPipeline(saw.Machine, jobs, saw.Blade, _options.LoadScore),
            new SawSetup(saw.Machine, saw.Blade, _options.LoadScore, _options.Catalogue),
            writer,
            _clocks.Wall,
            _loggers.CreateLogger<SawProcessor>(),
            _sharedBlades,
            finished =>
            {
                _figures.Finished(finished.Record);
                _onFinished?.Invoke(finished);
            },
            recording is null ? null : recording.Offer,
            alarms.For(saw.Name),
            live.Of(saw.Name),
            _options.Signals.Every,
            () => _clock.Doubt);

    // One cheap question for all saws.
    private async Task FollowBladesAsync(HistoryReader reader, List<SawProcessor> processors, CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(BladeWatch, _clocks.Wall);
        var inTrouble = false;
        while (await look.WaitForNextTickAsync(cancellation))
        {
            try
            {
                var newest = await reader.LastBladeEntryAsync(cancellation);
                processors.ForEach(processor => processor.OfferEntries(newest));
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

    // A loop that ends although nobody asked it to takes the whole gateway down, in order.
    private async Task Watch(string what, Task loop, CancellationTokenSource stopSources)
    {
        try
        {
            await loop;
            if (!stopSources.IsCancellationRequested)
                throw new InvalidOperationException($"{what} ended although nobody asked it to.");
        }
        catch (OperationCanceledException) when (stopSources.IsCancellationRequested)
        {
            // Asked to end.
        }
        catch (Exception e)
        {
            Failure ??= e;
            HostingLog.LoopEnded(_logger, what, e);
            await stopSources.CancelAsync();
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
