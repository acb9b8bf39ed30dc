using Microsoft.Extensions.Logging;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Accounts;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Changes;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Hosting;

/// <summary>Has the rooms of a gateway that runs go over to a changed configuration, in an order in which nobody meets what he does not know.</summary>
internal sealed class GatewayChanges : IDisposable
{
    // What a saw is counted under, and how it is written down, changes nothing of what runs for it.
    private static readonly string[] WithoutInterruption = ["group", "like"];

    /// <summary>The configuration file, for messages.</summary>
    public required string File { get; init; }

    /// <summary>The saws.</summary>
    public required RunningSaws Saws { get; init; }

    /// <summary>The jobs.</summary>
    public required FollowedJobs Jobs { get; init; }

    /// <summary>The alarms.</summary>
    public required AlarmRoom Alarms { get; init; }

    /// <summary>What the alarms look at each second, besides OEE.</summary>
    public required Func<GatewayOptions, IEnumerable<AlarmProbe>> Probes { get; init; }

    /// <summary>Makes the figures that rules on OEE look at.</summary>
    public required Func<GatewayOptions, OeeWatch> Oee { get; init; }

    /// <summary>Works them out.</summary>
    public required ExchangeableLoop OeeLoop { get; init; }

    /// <summary>What else is worked out or written by calendar and saws: the loop, and what makes it of a configuration.</summary>
    public required IReadOnlyList<(ExchangeableLoop Loop, Func<GatewayOptions, Func<CancellationToken, Task>> Of)> Figures { get; init; }

    /// <summary>What the API works with.</summary>
    public required ApiContext Api { get; init; }

    /// <summary>The destinations.</summary>
    public required DestinationsAgain Destinations { get; init; }

    /// <summary>Takes the levels of the log over.</summary>
    public required Action<GatewayOptions> LogLevels { get; init; }

    /// <summary>The signals that are recorded; null: nothing is.</summary>
    public required IReadOnlySet<Signal>? Recorded { get; init; }

    /// <summary>Where it speaks.</summary>
    public required ILogger Logger { get; init; }

    /// <summary>The configuration of the start, with all its saws.</summary>
    public required GatewayOptions Start { get; init; }

    /// <summary>Names of the saws that are watched; null: all of them.</summary>
    public IReadOnlySet<string>? Watched { get; set; }

    private readonly SemaphoreSlim _one = new(1, 1);
    private GatewayOptions? _options;
    private string _moreRecorded = "";

    /// <summary>Goes over.</summary>
    /// <param name="change">To what.</param>
    /// <param name="cancellation">Ends it; the gateway stops.</param>
    public async Task TakeOverAsync(ConfigurationChange change, CancellationToken cancellation)
    {
        var options = SourceLoops.Live(change.Options);
        await _one.WaitAsync(cancellation);
        try
        {
            _options = options;
            LogLevels(options);
            Jobs.TakeOver(options);
            var anew = Anew(change);
            var ofSaws = anew.Count > 0 || change.IsAbout(ConfigurationParts.Saws);
            var ofCalendar = change.Changes.Any(part => part is { List: null, Name: ConfigurationParts.Calendar });
            var ofAlarms = ofSaws || ofCalendar || change.IsAbout(ConfigurationParts.Rules, ConfigurationParts.Contacts) || change.Changes.Any(part => part is { List: null, Name: ConfigurationParts.WithoutRules });
            await GoOverAsync(Of(options), anew, ofSaws, ofCalendar, ofAlarms, cancellation);
            Api.TakeOver(options);
            await Destinations.TakeOverAsync(options, cancellation);
            SayWhatIsNotRecorded(options);
        }
        finally
        {
            _one.Release();
        }
    }

    /// <summary>Watches some saws from now on and no others, whatever else the configuration holds.</summary>
    /// <param name="saws">Their names; null: all that there are, now and later.</param>
    /// <param name="cancellation">Ends it; the gateway stops.</param>
    public async Task WatchAsync(IReadOnlySet<string>? saws, CancellationToken cancellation)
    {
        await _one.WaitAsync(cancellation);
        try
        {
            Watched = saws;
            await GoOverAsync(Of(_options ??= Start), new HashSet<string>(), ofSaws: true, ofCalendar: false, ofAlarms: true, cancellation);
        }
        finally
        {
            _one.Release();
        }
    }

    /// <inheritdoc/>
    public void Dispose() => _one.Dispose();

    private GatewayOptions Of(GatewayOptions options) => Watched is { } watched ? options with { Saws = [.. options.Saws.Where(saw => watched.Contains(saw.Name))] } : options;

    private async Task GoOverAsync(GatewayOptions options, HashSet<string> anew, bool ofSaws, bool ofCalendar, bool ofAlarms, CancellationToken cancellation)
    {
        var stopped = ofSaws ? await Saws.StopAsync(options, anew, cancellation) : [];
        if (stopped.Count > 0)
            HostingLog.SawsStopped(Logger, string.Join(", ", stopped));
        var coming = ofSaws ? Saws.Make(options) : [];
        if (ofAlarms)
        {
            // The desk before the saws: it knows what of the old rules is still told to it, and would not know what is told of the new ones.
            var oee = Oee(options);
            OeeLoop.Exchange(oee.RunAsync);
            await Alarms.TakeOverAsync(options, [.. Probes(options), .. oee.Probes], cancellation);
            Saws.OfferRules(options.Alarms.Rules);
        }

        await Saws.StartAsync(options, coming);
        if (coming.Count > 0)
            HostingLog.SawsStarted(Logger, string.Join(", ", coming.Select(saw => saw.Name)));
        if (ofSaws || ofCalendar)
        {
            foreach (var (loop, of) in Figures)
                loop.Exchange(of(options));
        }
    }

    /// <summary>The configuration with shifts in any case: without a calendar no time is planned; what saws do is told all the same.</summary>
    public static GatewayOptions WithShifts(GatewayOptions options) =>
        options.Calendar is null ? options with { Calendar = new CalendarOptions(new ShiftCalendar(new CalendarPlan { Zone = options.TimeZone }), new OeeSettings()) } : options;

    // A recording has the columns of the start.
    private void SayWhatIsNotRecorded(GatewayOptions options)
    {
        if (Recorded is null)
            return;
        var more = string.Join(", ", SourceLoops.MappedSignals(options).Where(signal => !Recorded.Contains(signal)).Select(signal => SignalInfo.Of(signal).Name));
        if (more.Length > 0 && more != _moreRecorded)
            HostingLog.ForNextStart(Logger, File, $"what is recorded ({more})");
        _moreRecorded = more;
    }

    // Saws that are another, and all behind a device or broker that is: its connection is made anew.
    private HashSet<string> Anew(ConfigurationChange change)
    {
        var sources = change.Changes.Where(part => part.Fate == PartFate.Changed && (part.List == ConfigurationParts.Devices || part.List == ConfigurationParts.Brokers)).Select(part => part.Name).ToHashSet(StringComparer.Ordinal);

        // A secret in a file of its own is another without anything in the configuration.
        foreach (var broker in change.Options.MqttBrokers.Where(broker => change.Before.MqttBrokers.Any(other => other.Name == broker.Name && other.Password != broker.Password)))
        {
            if (sources.Add(broker.Name))
                HostingLog.PartTaken(Logger, File, $"broker '{broker.Name}'", "changed (password: another, not shown)");
        }

        var anew = change.Changes.Where(part => part.List == ConfigurationParts.Saws && part.Members.Any(member => !WithoutInterruption.Contains(member.Path))).Select(part => part.Name).ToHashSet(StringComparer.Ordinal);
        anew.UnionWith(Saws.All.Where(saw => sources.Contains(SourceLoops.SourceOf(saw.Options))).Select(saw => saw.Name));
        return anew;
    }
}
