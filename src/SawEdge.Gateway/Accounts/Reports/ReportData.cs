using SawEdge.Core.Alarms;
using SawEdge.Core.Blades;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>What a report says of one saw.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Figures">Where its time went.</param>
/// <param name="Line">What it did, moment by moment.</param>
/// <param name="Stops">Its stops, in order.</param>
/// <param name="Blade">The blade that is on it, as it is known when the report is made; null: nothing is.</param>
public sealed record ReportSaw(string Name, OeeItem Figures, SawTimeline Line, IReadOnlyList<SawStop> Stops, BladeAccount? Blade);

/// <summary>All that a report says.</summary>
public sealed record ReportData
{
    /// <summary>The plant.</summary>
    public required string Site { get; init; }

    /// <summary>The gateway.</summary>
    public required string Gateway { get; init; }

    /// <summary>The span.</summary>
    public required ReportSpan Span { get; init; }

    /// <summary>By whose clock times are written.</summary>
    public required TimeZoneInfo Zone { get; init; }

    /// <summary>In which units lengths and areas are written.</summary>
    public required DisplayUnits Units { get; init; }

    /// <summary>When it was made.</summary>
    public required DateTimeOffset MadeAt { get; init; }

    /// <summary>The saws, in the order of the configuration.</summary>
    public required IReadOnlyList<ReportSaw> Saws { get; init; }

    /// <summary>The groups of saws; none where there is at most one saw in each.</summary>
    public required IReadOnlyList<OeeItem> Groups { get; init; }

    /// <summary>All saws together.</summary>
    public required OeeItem Total { get; init; }

    /// <summary>Each saw and shift of the span.</summary>
    public required IReadOnlyList<OeeItem> Shifts { get; init; }

    /// <summary>Alarms that were raised in the span, in order.</summary>
    public required IReadOnlyList<Alarm> Alarms { get; init; }
}

/// <summary>Gathers what a report says.</summary>
/// <param name="options">The configuration.</param>
/// <param name="oee">The figures.</param>
/// <param name="reader">The history.</param>
/// <param name="blades">The blades of a saw, the latest last.</param>
public sealed class ReportReader(GatewayOptions options, OeeService oee, HistoryReader reader, Func<string, CancellationToken, Task<IReadOnlyList<BladeAccount>>> blades)
{
    /// <summary>Gathers it.</summary>
    /// <param name="span">The span.</param>
    /// <param name="cancellation">Ends the work.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<ReportData> ReadAsync(ReportSpan span, CancellationToken cancellation = default)
    {
        var whole = await oee.FiguresAsync(new OeeQuestion(span.Time, OeeEach.Whole), cancellation);
        var site = await oee.FiguresAsync(new OeeQuestion(span.Time, OeeEach.Whole, OeeBy.Site), cancellation);
        var groups = await oee.FiguresAsync(new OeeQuestion(span.Time, OeeEach.Whole, OeeBy.Group), cancellation);
        var shifts = await oee.FiguresAsync(new OeeQuestion(span.Time, OeeEach.Shift), cancellation);
        var saws = new List<ReportSaw>();
        foreach (var figures in whole)
        {
            var saw = options.Saws.First(saw => saw.Name == figures.Subject);
            saws.Add(new ReportSaw(
                saw.Name,
                figures,
                await oee.TimelineAsync(saw, span.Time, cancellation),
                await oee.StopsAsync(saw, span.Time, TimeSpan.Zero, cancellation),
                await blades(saw.Name, cancellation) is [.., var blade] ? blade : null));
        }

        var alarms = new List<Alarm>();
        await foreach (var alarm in reader.AlarmsAsync(new AlarmFilter { From = span.Time.From, To = span.Time.To }, cancellation))
            alarms.Add(alarm);
        alarms.Reverse();
        return new ReportData
        {
            Site = options.Site,
            Gateway = options.Gateway,
            Span = span,
            Zone = oee.Calendar.Calendar.Zone,
            Units = options.Units,
            MadeAt = oee.Now,
            Saws = saws,
            Groups = groups.Count == whole.Count ? [] : groups,
            Total = site[0],
            Shifts = shifts,
            Alarms = alarms,
        };
    }
}
