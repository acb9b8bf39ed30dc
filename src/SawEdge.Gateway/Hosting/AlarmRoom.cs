using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Hosting;

/// <summary>The alarms of a gateway, put together from its configuration.</summary>
internal sealed class AlarmRoom
{
    /// <summary>Puts it together.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="probes">What is looked at each second.</param>
    /// <param name="reader">The history.</param>
    /// <param name="writer">The history.</param>
    /// <param name="queue">Where the saws' conditions come from.</param>
    /// <param name="machine">The machine clock.</param>
    /// <param name="loggers">The loggers.</param>
    /// <param name="onEvent">Told of what happens in place of the log, or null.</param>
    public AlarmRoom(GatewayOptions options, IEnumerable<AlarmProbe> probes, HistoryReader reader, HistoryWriter writer, AlarmQueue queue, TimeProvider machine, ILoggerFactory loggers, Action<AlarmEvent>? onEvent)
    {
        Queue = queue;
        Desk = new AlarmDesk(Board(options), new NoticePlan(options.Alarms.Contacts), new ProbeWatch(options.Alarms.Rules, probes), queue, reader, writer, machine, loggers.CreateLogger<AlarmDesk>(), onEvent);
    }

    /// <summary>The way to the desk.</summary>
    public AlarmQueue Queue { get; }

    /// <summary>The desk.</summary>
    public AlarmDesk Desk { get; }

    /// <summary>Goes over to other rules, contacts, saws or hours of work; ends when they hold.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="probes">What is looked at each second.</param>
    /// <param name="cancellation">Ends the wait.</param>
    public Task TakeOverAsync(GatewayOptions options, IReadOnlyList<AlarmProbe> probes, CancellationToken cancellation) =>
        Desk.TakeOverAsync(Board(options), new NoticePlan(options.Alarms.Contacts), before => new ProbeWatch(options.Alarms.Rules, probes, before), cancellation);

    private static AlarmBoard Board(GatewayOptions options) => new(options.Alarms.Rules, new AlarmBoardSettings
    {
        SourceOfSaw = options.Saws.ToDictionary(saw => saw.Name, SourceLoops.SourceOf, StringComparer.Ordinal),
        Subjects = Subjects(options).ToHashSet(),
        IsAtWork = options.Calendar is { } calendar ? calendar.Calendar.IsAtWork : null,
        Quantity = (value, unit) => DisplayText.Text(options.Units, value, unit),
    });

    private static IEnumerable<AlarmSubject> Subjects(GatewayOptions options) =>
    [
        .. options.Saws.Select(saw => AlarmSubject.Saw(saw.Name)),
        .. options.Saws.Select(saw => new AlarmSubject(AlarmSubjectKind.Source, SourceLoops.SourceOf(saw))),
        .. options.Influx.Select(influx => new AlarmSubject(AlarmSubjectKind.Destination, influx.Name)),
        .. options.Alarms.Channels.Select(channel => new AlarmSubject(AlarmSubjectKind.Channel, channel.Name)),
        new AlarmSubject(AlarmSubjectKind.Gateway, options.Gateway),
    ];
}
