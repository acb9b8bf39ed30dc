using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>The load along the depth of each cut on its way to a destination, in the order of the journal.</summary>
public sealed class ProfileLane : DestinationLane
{
    // The writer wakes this loop; this look is for what it may have missed.
    private static readonly TimeSpan SlowLook = TimeSpan.FromSeconds(30);

    // Their rows are read at once; each brings 48 points.
    private const int MostCycles = 500;

    private readonly HistoryWriter _writer;
    private readonly LoadProfilePointMapper _profiles;
    private long _gone;

    /// <summary>Prepares the lane.</summary>
    /// <param name="destination">Where it leads.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the profiles.</param>
    /// <param name="writer">Keeps the cursor, and wakes this when there is something new.</param>
    public ProfileLane(Destination destination, string site, string gateway, HistoryReader reader, HistoryWriter writer)
        : base(destination, destination.Name + Lanes.Profiles, reader, writer)
    {
        _writer = writer;
        _profiles = new LoadProfilePointMapper(site, gateway);
    }

    /// <inheritdoc/>
    private protected override async Task<LaneBatch> NextAsync(long after, CancellationToken cancellation)
    {
        while (true)
        {
            // Taken before reading: what is committed after the reading wakes the wait below.
            var heard = _writer.Journal.Last;
            var most = Math.Clamp(MostPoints / Core.Cycles.DepthProfile.DefaultBins, 1, MostCycles);
            var entries = await AskAsync(() => Reader.JournalProfilesAsync(after, most, cancellation), cancellation);
            if (entries.Count > 0)
            {
                await CountGoneAsync(entries, cancellation);
                return BatchOf(entries);
            }

            await _writer.Journal.WaitBeyondAsync(heard, SlowLook, Time, cancellation);
        }
    }

    private LaneBatch BatchOf(IReadOnlyList<JournalProfile> entries)
    {
        var lines = new LineBatch();
        var of = new List<string>();
        foreach (var entry in entries)
        {
            if (entry is not { Cycle: { } cycle, Profile: { } profile })
                continue;
            foreach (var line in _profiles.ToLines(cycle, profile))
            {
                lines.Add(entry.Sequence, line);
                of.Add(cycle.CycleId);
            }
        }

        return new LaneBatch(lines, entries[^1].Sequence, index => $"the profile of cycle {of[index]}");
    }

    // Said once when it begins and once when it ends.
    private async Task CountGoneAsync(IReadOnlyList<JournalProfile> entries, CancellationToken cancellation)
    {
        long[] gone = [.. entries.Where(entry => entry.IsGone).Select(entry => entry.Sequence)];
        if (gone.Length > 0)
        {
            await _writer.CountGoneAsync(Name, gone, cancellation);
            if (_gone == 0)
                ForwardingLog.ProfilesGone(Destination.Logger, Name, Destination.Server);
            _gone += gone.Length;
        }
        else if (_gone > 0 && entries.Any(entry => entry.Profile is not null))
        {
            ForwardingLog.NoProfilesGoneAnyMore(Destination.Logger, Name, Destination.Server, _gone);
            _gone = 0;
        }
    }
}
