using Microsoft.Extensions.Logging;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Hosting;

/// <summary>
/// All that runs a saw: source, inbox, loop, what is shown of it. Saws are stopped, started and started anew one by one, and the others go on
/// without a frame lost. One thread changes; any may look.
/// </summary>
internal sealed class RunningSaws
{
    private readonly SharedBlades _sharedBlades = new();
    private readonly SawSources _sources;
    private readonly LoopGuard _guard;
    private IReadOnlyList<RunningSaw> _all = [];
    private JobBook _jobs = JobBook.Empty;

    /// <summary>Prepares; <see cref="Prepare"/> makes the saws.</summary>
    /// <param name="clocks">The clocks.</param>
    /// <param name="loggers">The loggers.</param>
    /// <param name="guard">Watches the loops.</param>
    public RunningSaws(GatewayClocks clocks, ILoggerFactory loggers, LoopGuard guard)
    {
        (Clocks, Loggers, _guard) = (clocks, loggers, guard);
        _sources = new SawSources(clocks.Machine, loggers, guard);
    }

    private GatewayClocks Clocks { get; }

    private ILoggerFactory Loggers { get; }

    /// <summary>The history.</summary>
    public required HistoryReader Reader { get; init; }

    /// <summary>The history.</summary>
    public required HistoryWriter Writer { get; init; }

    /// <summary>The way to the alarms.</summary>
    public required AlarmQueue Queue { get; init; }

    /// <summary>Where the saws show what they do.</summary>
    public required LiveSaws Live { get; init; }

    /// <summary>Tells which loops hang.</summary>
    public required LoopWatch Watch { get; init; }

    /// <summary>Is shown each frame, or null.</summary>
    public required RecordingSink? Recording { get; init; }

    /// <summary>Told of each finished cut.</summary>
    public required Action<FinishedCut> OnFinished { get; init; }

    /// <summary>Says why the clock is not to be trusted, or null.</summary>
    public required Func<string?> Doubt { get; init; }

    /// <summary>Ends the saws' loops at once.</summary>
    public required CancellationToken AtOnce { get; init; }

    /// <summary>Whether cycles that are under way when a saw is started are left out, because another gateway may have seen their start.</summary>
    public bool LeavesOutUnderWay { get; set; }

    /// <summary>The saws, in the order of the configuration.</summary>
    public IReadOnlyList<RunningSaw> All => Volatile.Read(ref _all);

    /// <summary>What is heard of them, by their names.</summary>
    public IReadOnlyDictionary<string, SawPresence> Presences => All.ToDictionary(saw => saw.Name, saw => saw.Presence, StringComparer.Ordinal);

    /// <summary>What polling them came to, by their names, of those that are polled.</summary>
    public IReadOnlyDictionary<string, PollCounters> Polls => All.Where(saw => saw.Polls is not null).ToDictionary(saw => saw.Name, saw => saw.Polls!, StringComparer.Ordinal);

    /// <summary>Where their frames come in.</summary>
    public IEnumerable<SawInbox> Inboxes => All.Select(saw => saw.Inbox);

    /// <summary>Makes the saws; nothing runs yet.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="jobs">The jobs.</param>
    public void Prepare(GatewayOptions options, JobBook jobs)
    {
        _jobs = jobs;
        _all = [.. options.Saws.Select(saw => New(saw, options))];
    }

    /// <summary>Starts the loops of the saws.</summary>
    public void StartProcessing()
    {
        foreach (var saw in All)
            Start(saw);
    }

    /// <summary>Starts what they are read from.</summary>
    public void StartSources(GatewayOptions options) => _sources.Start(options, All);

    /// <summary>Gives all of them another job list.</summary>
    public void OfferJobs(JobBook jobs)
    {
        Volatile.Write(ref _jobs, jobs);
        foreach (var saw in All)
            saw.Processor.OfferJobs(jobs);
    }

    /// <summary>Says to all of them that entries about blades have come up to a number.</summary>
    public void OfferEntries(long newest)
    {
        foreach (var saw in All)
            saw.Processor.OfferEntries(newest);
    }

    /// <summary>Gives all of them the rules that hold.</summary>
    public void OfferRules(IReadOnlyList<AlarmRule> rules)
    {
        foreach (var saw in All)
            saw.Alarms.Offer(new SawAlarmWatch(saw.Name, rules));
    }

    /// <summary>Stops the saws that are gone and those that are to begin anew: what is open of them is stored, as at a stop of the gateway. The others are left alone.</summary>
    /// <param name="options">The configuration that is to hold.</param>
    /// <param name="anew">Names of the saws that are to begin anew.</param>
    /// <param name="cancellation">Ends it; the gateway stops.</param>
    /// <returns>Names of the saws that were stopped.</returns>
    public async Task<IReadOnlyList<string>> StopAsync(GatewayOptions options, IReadOnlySet<string> anew, CancellationToken cancellation)
    {
        var leaving = All.Where(saw => anew.Contains(saw.Name) || options.Saws.All(other => other.Name != saw.Name)).ToList();
        leaving.ForEach(saw => saw.Ask());
        await _sources.RemoveAsync(leaving);
        leaving.ForEach(saw => saw.End());
        foreach (var saw in leaving)
        {
            await saw.Loop.WaitAsync(cancellation);
            Watch.Remove(LoopName(saw));
            if (options.Saws.All(other => other.Name != saw.Name))
                Live.Remove(saw.Name);
            saw.Dispose();
        }

        Volatile.Write(ref _all, [.. All.Except(leaving)]);
        return [.. leaving.Select(saw => saw.Name)];
    }

    /// <summary>Makes the saws that do not run yet; <see cref="StartAsync"/> starts them.</summary>
    /// <param name="options">The configuration that is to hold.</param>
    /// <returns>The saws that were made.</returns>
    public IReadOnlyList<RunningSaw> Make(GatewayOptions options)
    {
        var staying = All.ToDictionary(saw => saw.Name, StringComparer.Ordinal);
        var (coming, all) = (new List<RunningSaw>(), new List<RunningSaw>());
        foreach (var saw in options.Saws)
        {
            if (staying.TryGetValue(saw.Name, out var known))
                known.Options = saw;
            else
                coming.Add(known = New(saw, options));
            all.Add(known);
        }

        Volatile.Write(ref _all, all);

        // The list may have changed while they were made, and they were not among those that are given another.
        coming.ForEach(saw => saw.Processor.OfferJobs(Volatile.Read(ref _jobs)));
        return coming;
    }

    /// <summary>Starts saws that were made, with their memory, as at a start of the gateway.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="coming">The saws.</param>
    public async Task StartAsync(GatewayOptions options, IReadOnlyList<RunningSaw> coming)
    {
        foreach (var saw in coming)
        {
            Start(saw);
            await _sources.AddAsync(options, saw);
        }
    }

    /// <summary>Ends when nothing is read any more, all sources having been asked to end.</summary>
    public Task SourcesEndAsync() => _sources.EndAsync();

    /// <summary>Has the loops end once every frame is taken; ends with them.</summary>
    public async Task EndAsync()
    {
        foreach (var saw in All)
            saw.Inbox.Complete();
        await Task.WhenAll(All.Select(saw => saw.Loop));
    }

    private static string LoopName(RunningSaw saw) => $"processing of {saw.Name}";

    private void Start(RunningSaw saw)
    {
        // While the disk refuses, processing waits for it: it has an alarm of its own.
        Watch.Add(LoopName(saw), () => new LoopState(saw.Processor.Turns, saw.Inbox.Waiting > 0 && !Writer.InTrouble));
        saw.Start(asked => _guard.WatchOneAsync(LoopName(saw), saw.Processor.RunAsync(Reader, AtOnce), asked));
    }

    private RunningSaw New(SawOptions saw, GatewayOptions options)
    {
        var presence = new SawPresence(saw.Name, saw.MappedSignals, saw.Interval, Clocks.Machine, SourceLoops.PublishesChanges(saw));
        var inbox = new SawInbox(saw.Name, presence: presence, derived: saw.Derived) { Clock = SourceLoops.BringsTimes(saw) ? null : new FrameClock(Clocks.Machine, Clocks.Boot) };
        var alarms = new SawAlarms(new SawAlarmWatch(saw.Name, options.Alarms.Rules), Queue, Clocks.Machine);
        var processor = new SawProcessor(
            inbox,
            new SawPipeline(saw.Machine, Volatile.Read(ref _jobs), saw.Blade, options.LoadScore),
            new SawSetup(saw.Machine, saw.Blade, options.LoadScore, options.Catalogue),
            Writer,
            Clocks.Wall,
            Loggers.CreateLogger<SawProcessor>(),
            _sharedBlades,
            OnFinished,
            Recording is null ? null : Recording.Offer,
            alarms,
            Live.Of(saw.Name),
            options.Signals.Every,
            Doubt)
        {
            LeavesOutWithin = !LeavesOutUnderWay ? null : saw.HasHandlingBetweenCycles ? HandOver.WithoutCycleBit : saw.Interval,
        };
        return new RunningSaw { Options = saw, Presence = presence, Inbox = inbox, Alarms = alarms, Processor = processor };
    }
}
