using System.Buffers;
using SawEdge.Core;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <summary>Cycles and events of alarms on their way to a destination, in the order of the journal.</summary>
public sealed class JournalLane : DestinationLane
{
    // The writer wakes this loop; this look is for what it may have missed.
    private static readonly TimeSpan SlowLook = TimeSpan.FromSeconds(30);

    private readonly JournalSignal _journal;
    private readonly Action<CycleRecord, ArrayBufferWriter<byte>> _writeCycle;
    private readonly AlarmPointMapper _alarms;
    private long _waitedFor;

    /// <summary>Prepares the lane.</summary>
    /// <param name="destination">Where it leads; its name is the consumer's in the history.</param>
    /// <param name="site">Name of the plant, a tag.</param>
    /// <param name="gateway">Name of the gateway, a tag.</param>
    /// <param name="reader">Reads the journal.</param>
    /// <param name="writer">Keeps the cursor, and wakes this when there is something new.</param>
    public JournalLane(Destination destination, string site, string gateway, HistoryReader reader, HistoryWriter writer)
        : base(destination, destination.Name, reader, writer)
    {
        _journal = writer.Journal;
        _writeCycle = new PointMapper(site, gateway).Write;
        _alarms = new AlarmPointMapper(site, gateway);
    }

    /// <inheritdoc/>
    private protected override async Task BeginAsync(CancellationToken cancellation)
    {
        var pending = await AskAsync(() => Reader.CountAfterAsync(Cursor, cancellation), cancellation);
        ForwardingLog.Started(Destination.Logger, Name, Destination.Server, Cursor, pending);
    }

    /// <inheritdoc/>
    private protected override async Task<LaneBatch> NextAsync(long after, CancellationToken cancellation)
    {
        while (true)
        {
            // Taken before reading: what is committed after the reading wakes the wait below.
            var heard = _journal.Last;
            var most = MostPoints;
            var entries = await AskAsync(() => Reader.JournalAsync(after, most, cancellation), cancellation);
            if (entries.Count == 0)
            {
                await _journal.WaitBeyondAsync(heard, SlowLook, Time, cancellation);
                continue;
            }

            if (entries.Count < most && entries[0].Sequence != _waitedFor)
            {
                _waitedFor = entries[0].Sequence;
                if (await FillAsync(entries, heard, most, cancellation))
                    continue;
            }

            return BatchOf(entries, most);
        }
    }

    /// <summary>Waits until a batch that is not full may go.</summary>
    /// <returns>Whether something came meanwhile, so that it is worth reading again.</returns>
    private async Task<bool> FillAsync(IReadOnlyList<JournalEntry> entries, long heard, int most, CancellationToken cancellation)
    {
        var came = false;
        while (true)
        {
            var last = entries[^1].Sequence;
            var waiting = entries.Count + Math.Max(0, heard - last);
            var wait = DeliveryRules.Fill(waiting, most, Time.GetUtcNow() - entries[0].At, Destination.Options.MaximumWait);
            if (wait == TimeSpan.Zero)
                return came;
            var started = Time.GetTimestamp();
            await _journal.WaitBeyondAsync(heard, wait, Time, cancellation);
            came |= _journal.Last > heard;
            heard = _journal.Last;
            // Measured apart from the wall clock: a clock that is set back must not make a batch wait for ever.
            if (Time.GetElapsedTime(started) >= wait)
                return came;
        }
    }

    private LaneBatch BatchOf(IReadOnlyList<JournalEntry> entries, int most)
    {
        var lines = new LineBatch(entries.Count);
        var mapped = new List<JournalEntry>(entries.Count);
        var wanted = Destination.Options.Points;
        foreach (var entry in entries)
        {
            // What is left out is of a kind that is not wanted, or its row is gone.
            if (entry.Cycle is { } cycle && wanted.HasFlag(PointChoice.Cycles))
                lines.Add(entry.Sequence, cycle, _writeCycle);
            else if (entry.AlarmEvent is { } stored && wanted.HasFlag(PointChoice.Alarms))
                lines.Add(entry.Sequence, _alarms.ToLine(stored.Event));
            else
                continue;
            mapped.Add(entry);
        }

        return new LaneBatch(lines, entries[^1].Sequence, index => Describe(mapped[index])) { HasMore = entries.Count == most };
    }

    private static string Describe(JournalEntry entry) => entry.AlarmEvent is { Event: var happened } stored
        ? $"event {stored.Id} of an alarm ({happened.Rule}, {happened.Subject}: {happened.Kind.ToName()})"
        : $"cycle {entry.Cycle!.CycleId}";
}
