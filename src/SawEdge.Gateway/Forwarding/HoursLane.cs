using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// What is known of the hours on its way to a destination (figures, states, stops by reason), each point again when it comes out differently.
/// Its place is among the numbers of the hours as they changed last, so whatever happens an hour is sent as it is in the end.
/// </summary>
public sealed class HoursLane : DestinationLane
{
    // The running hour changes about once a minute.
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(10);

    // Each has tens of points.
    private const int MostHours = 500;

    private readonly HourLines _lines;
    private readonly StopNames _names;

    /// <summary>Prepares the lane.</summary>
    /// <param name="destination">Where it leads.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the figures.</param>
    /// <param name="writer">Keeps the cursor.</param>
    /// <param name="names">Which reasons of stops have a tag value of their own; one for all destinations of a gateway.</param>
    public HoursLane(Destination destination, string site, string gateway, HistoryReader reader, HistoryWriter writer, StopNames names)
        : base(destination, ConsumerOf(destination.Name), reader, writer)
    {
        _names = names;
        _lines = new HourLines(site, gateway, names.TagOf, destination.Options.Points);
    }

    /// <summary>The name of the consumer that brings figures to a destination.</summary>
    public static string ConsumerOf(string destination) => destination + Lanes.Hours;

    /// <inheritdoc/>
    private protected override Task BeginAsync(CancellationToken cancellation) => AskAsync(
        async () =>
        {
            await _names.ReadAsync(cancellation);
            return true;
        },
        cancellation);

    /// <inheritdoc/>
    private protected override async Task<LaneBatch> NextAsync(long after, CancellationToken cancellation)
    {
        while (true)
        {
            var hours = await AskAsync(() => Reader.AccountHoursAsync(after, Math.Min(MostPoints, MostHours), cancellation), cancellation);
            if (hours.Count > 0)
            {
                var batch = BatchOf(hours);
                await _names.KeepAsync(cancellation);
                return batch;
            }

            await Task.Delay(LookEvery, Time, cancellation);
        }
    }

    /// <inheritdoc/>
    private protected override void Done(LaneBatch batch, IReadOnlySet<int> refused)
    {
        var lines = refused.Select(batch.Lines.LineOf).ToHashSet(StringComparer.Ordinal);
        foreach (var (hour, all) in ((HoursBatch)batch).Hours)
            _lines.Taken(hour, all, lines);
    }

    private HoursBatch BatchOf(IReadOnlyList<AccountHour> hours)
    {
        var lines = new LineBatch();
        var of = new List<AccountHour>();
        var all = hours.Select(hour => (Hour: hour, All: _lines.All(hour))).ToList();
        foreach (var (hour, its) in all)
        {
            foreach (var line in _lines.NewOf(hour, its))
            {
                lines.Add(hour.Sequence, line);
                of.Add(hour);
            }
        }

        return new HoursBatch(lines, hours[^1].Sequence, of, all);
    }

    /// <param name="lines">The points.</param>
    /// <param name="end">The number of the last hour.</param>
    /// <param name="of">The hour of each point.</param>
    /// <param name="hours">The hours with all their lines.</param>
    private sealed class HoursBatch(LineBatch lines, long end, List<AccountHour> of, IReadOnlyList<(AccountHour Hour, IReadOnlyList<string> All)> hours)
        : LaneBatch(lines, end, index => $"a point of {of[index].Saw} from {of[index].Hour.From:u} on")
    {
        public IReadOnlyList<(AccountHour Hour, IReadOnlyList<string> All)> Hours { get; } = hours;
    }
}
