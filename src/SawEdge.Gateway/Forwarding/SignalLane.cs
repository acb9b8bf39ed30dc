using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>The downsampled signals on their way to a destination, in the order in which they were stored: those of a saw in order of time.</summary>
public sealed class SignalLane : DestinationLane
{
    // Samples are stored every 10 s at the soonest.
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(5);

    private readonly SignalPointMapper _signals;

    /// <summary>Prepares the lane.</summary>
    /// <param name="destination">Where it leads.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the samples.</param>
    /// <param name="writer">Keeps the cursor.</param>
    public SignalLane(Destination destination, string site, string gateway, HistoryReader reader, HistoryWriter writer)
        : base(destination, destination.Name + Lanes.Signals, reader, writer) => _signals = new SignalPointMapper(site, gateway);

    /// <inheritdoc/>
    private protected override async Task<LaneBatch> NextAsync(long after, CancellationToken cancellation)
    {
        while (true)
        {
            var most = Math.Max(1, MostPoints / Core.Signals.SignalSample.Signals.Count);
            var samples = await AskAsync(() => Reader.SamplesAfterAsync(after, most, cancellation), cancellation);
            if (samples.Count > 0)
                return BatchOf(samples);
            await Task.Delay(LookEvery, Time, cancellation);
        }
    }

    private LaneBatch BatchOf(IReadOnlyList<(long Sequence, SawSample Stored)> samples)
    {
        var lines = new LineBatch();
        var of = new List<SawSample>();
        foreach (var (sequence, stored) in samples)
        {
            foreach (var line in _signals.ToLines(stored))
            {
                lines.Add(sequence, line);
                of.Add(stored);
            }
        }

        return new LaneBatch(lines, samples[^1].Sequence, index => $"a signal of {of[index].Saw} from {of[index].Sample.From:u} on");
    }
}
