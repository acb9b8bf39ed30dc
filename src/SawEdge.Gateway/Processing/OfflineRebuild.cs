using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <summary>Takes new entries about blades over where no gateway runs: computes the records anew and leaves the state that the next start expects.</summary>
internal static class OfflineRebuild
{
    /// <summary>Computes what new entries of a saw change.</summary>
    /// <param name="reader">The history.</param>
    /// <param name="writer">Its running writer.</param>
    /// <param name="saw">The saw.</param>
    /// <param name="cancellation">Breaks off; the next start of the gateway does the rest.</param>
    /// <returns>What came of it; null where nothing was stored of the saw, so that the gateway's start will see to it.</returns>
    /// <exception cref="HistoryException">The history cannot be read or written.</exception>
    public static async Task<RebuildOutcome?> RunAsync(HistoryReader reader, HistoryWriter writer, SawSetup saw, CancellationToken cancellation)
    {
        var name = saw.Machine.Name;
        var saved = await reader.LoadSawAsync(name, cancellation);
        if (saved.State is not { } state || TryDecode(state) is not { } memory)
            return null;
        var from = memory.Recorder is null ? null : await reader.EarliestNewEntryAsync(name, memory.Entries, cancellation);
        if (memory.Recorder is not null && from is null)
            return null;
        var outcome = await new Rebuild(reader, writer, saw).RunAsync(from, cancellation);
        var next = outcome.Into(memory.WithoutRecorder);
        await writer.SaveMemoryAsync(name, MemoryCodec.Encode(next, outcome.Entries, outcome.SinceCheckpoint, memory.Clock), cancellation);
        return outcome;
    }

    private static SavedMemory? TryDecode(SawState state)
    {
        try
        {
            return MemoryCodec.Decode(state);
        }
        catch (FormatException)
        {
            // The gateway says so at its start and computes everything anew.
            return null;
        }
    }
}
