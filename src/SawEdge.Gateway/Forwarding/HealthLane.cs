using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>What the gateway reports about its own health on its way to a destination, in order.</summary>
public sealed class HealthLane : DestinationLane
{
    // There is one a minute.
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(10);

    // Each has a point for every saw and every destination.
    private const int MostReports = 100;

    private readonly HealthPointMapper _health;

    /// <summary>Prepares the lane.</summary>
    /// <param name="destination">Where it leads.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the reports.</param>
    /// <param name="writer">Keeps the cursor.</param>
    public HealthLane(Destination destination, string site, string gateway, HistoryReader reader, HistoryWriter writer)
        : base(destination, destination.Name + Lanes.Gateway, reader, writer) => _health = new HealthPointMapper(site, gateway);

    /// <inheritdoc/>
    private protected override async Task<LaneBatch> NextAsync(long after, CancellationToken cancellation)
    {
        while (true)
        {
            var reports = await AskAsync(() => Reader.HealthAfterAsync(after, Math.Min(MostPoints, MostReports), cancellation), cancellation);
            if (reports.Count > 0)
                return BatchOf(reports);
            await Task.Delay(LookEvery, Time, cancellation);
        }
    }

    private LaneBatch BatchOf(IReadOnlyList<StoredHealth> reports)
    {
        var lines = new LineBatch();
        var of = new List<DateTimeOffset>();
        foreach (var (sequence, report) in reports)
        {
            foreach (var line in _health.ToLines(report))
            {
                lines.Add(sequence, line);
                of.Add(report.At);
            }
        }

        return new LaneBatch(lines, reports[^1].Sequence, index => $"the gateway's health at {of[index]:u}");
    }
}
