using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Cutting;
using SawEdge.Core.Load;
using SawEdge.Core.Materials;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <summary>What computing anew needs to know of a saw.</summary>
/// <param name="Machine">The saw.</param>
/// <param name="Blade">The blade that the configuration names, or null.</param>
/// <param name="Settings">What a person set about the load score.</param>
/// <param name="Catalogue">Where the materials of stored jobs are looked up.</param>
internal sealed record SawSetup(SawMachine Machine, string? Blade, LoadSettings Settings, MaterialCatalogue Catalogue)
{
    /// <summary>A saw of which only the name is known, for looking at what is stored of it.</summary>
    public static SawSetup Unknown(string name) => new(new SawMachine { Name = name }, null, new LoadSettings(), MaterialCatalogue.BuiltIn);

    /// <summary>A recorder that knows nothing yet.</summary>
    public CutRecorder NewRecorder() => new(Machine, Settings, Blade);
}

/// <summary>What came of computing records anew.</summary>
/// <param name="Recorder">The recorder after the last stored cycle.</param>
/// <param name="Cycles">Cycles that were computed.</param>
/// <param name="Changed">Cycles of which record, profile or assessment changed.</param>
/// <param name="Unreadable">Cycles whose job cannot be read any more, as when its material left the catalogue; their records stay.</param>
/// <param name="SinceCheckpoint">Cycles since the last checkpoint.</param>
/// <param name="Entries">The latest entry about blades that was known.</param>
internal sealed record RebuildOutcome(CutRecorder Recorder, int Cycles, int Changed, int Unreadable, int SinceCheckpoint, long Entries)
{
    /// <summary>Up to when records stayed as they are although they were asked for, because what they were computed from was cleared away; null: none.</summary>
    public DateTimeOffset? StayedUpTo { get; init; }

    /// <summary>The saw's memory with the new recorder in place of the old.</summary>
    public PipelineMemory Into(PipelineMemory memory) => memory with { Recorder = Recorder.Save() };
}

/// <summary>
/// Computes the records of a saw anew from stored evidence, with the entries about blades and the settings as they are now,
/// and writes back what changed. Nothing else may write this saw's cycles meanwhile. With unchanged inputs it changes nothing.
/// </summary>
internal sealed class Rebuild(HistoryReader reader, HistoryWriter writer, SawSetup saw)
{
    // An entry speaks of the stop nearest to it, and a step is judged by cuts on both sides: far more than that is read again.
    private static readonly TimeSpan Margin = TimeSpan.FromDays(1);

    // A recorder may hand a cut out again with a corrected record, and only the last word may be stored, or what is right
    // already would change twice. This many cuts wait for it.
    private const int Waiting = 1024;
    private const int WrittenTogether = 256;

    private readonly OrderedDictionary<string, FinishedCycle> _waiting = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _configured = new(StringComparer.Ordinal);
    private readonly HashSet<string> _kept = new(StringComparer.Ordinal);
    private int _changed;

    /// <summary>Told of each cycle that was computed; must not wait.</summary>
    public Action? OnCycle { get; init; }

    /// <summary>Computes.</summary>
    /// <param name="from">Records before this moment are right as they are; null: all are computed.</param>
    /// <param name="cancellation">Breaks off; what was not reached stays, and the next run reaches it.</param>
    /// <exception cref="HistoryException">The history cannot be read or written.</exception>
    public async Task<RebuildOutcome> RunAsync(DateTimeOffset? from, CancellationToken cancellation)
    {
        var entries = await reader.BladeEntriesAsync(saw.Machine.Name, cancellation);
        var (recorder, begin) = await BeginAsync(from, cancellation);
        while (!await writer.DropCheckpointsAsync(saw.Machine.Name, begin, cancellation))
            (recorder, begin) = await BeginAsync(from, cancellation);
        recorder.Entries = entries.Book;

        var (cycles, unreadable, since) = (0, 0, 0);
        await foreach (var fed in new EvidenceFeed(reader, saw, recorder).RunAsync(begin, cancellation))
        {
            var record = fed.Stored.Record;
            if (!fed.IsReadable)
            {
                unreadable++;
                _kept.Add(record.CycleId);
            }

            _configured[record.CycleId] = fed.Stored.ConfiguredBlade;
            foreach (var cut in fed.Finished)
                Wait(cut);
            cycles++;
            OnCycle?.Invoke();
            if (++since >= CutStorage.CheckpointEvery && _waiting.TryGetValue(record.CycleId, out var row))
            {
                since = 0;
                _waiting[record.CycleId] = row with { Checkpoint = CutStorage.Checkpoint(recorder, record.StartedAt) };
            }

            while (_waiting.Count >= Waiting + WrittenTogether)
                await WriteAsync(WrittenTogether, cancellation);
        }

        while (_waiting.Count > 0)
            await WriteAsync(Math.Min(_waiting.Count, WrittenTogether), cancellation);
        return new RebuildOutcome(recorder, cycles, _changed, unreadable, since, entries.Last) { StayedUpTo = from is null || begin >= from ? begin : null };
    }

    /// <summary>The recorder that goes on from what was stored: takes again the cuts that may yet show that a blade was changed before them.</summary>
    /// <param name="reader">The history; it holds those cuts and their records.</param>
    /// <param name="saw">The saw.</param>
    /// <param name="memory">What was stored.</param>
    /// <param name="entries">What people said about the blades.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="FormatException">What was stored cannot be used.</exception>
    public static async Task<CutRecorder> ResumeAsync(HistoryReader reader, SawSetup saw, RecorderMemory memory, BladeBook entries, CancellationToken cancellation)
    {
        var recorder = saw.NewRecorder();
        recorder.Entries = entries;
        recorder.Restore(memory);
        if (memory.TakeAgainFrom is { } again)
        {
            await foreach (var _ in new EvidenceFeed(reader, saw, recorder).RunAsync(CutStorage.Before(again), cancellation))
            {
                // Its record is stored as it was made the first time.
            }
        }

        return recorder;
    }

    // Where old evidence was cleared away, the first checkpoint is the beginning: what lies before it stays as it is.
    private async Task<(CutRecorder Recorder, DateTimeOffset? After)> BeginAsync(DateTimeOffset? from, CancellationToken cancellation)
    {
        var (name, version) = (saw.Machine.Name, MemoryCodec.CheckpointVersion);
        var checkpoint = from is null ? null : await reader.CheckpointAsync(name, from.Value - Margin, version, cancellation);
        checkpoint ??= await reader.CheckpointAfterClearedAsync(name, version, cancellation);
        var recorder = saw.NewRecorder();
        if (checkpoint is null)
            return (recorder, null);
        try
        {
            recorder.Restore(MemoryCodec.DecodeCheckpoint(checkpoint.State));
            return (recorder, checkpoint.At);
        }
        catch (FormatException)
        {
            // Computing from the beginning gives the same, later.
            return (saw.NewRecorder(), null);
        }
    }

    private void Wait(FinishedCut cut)
    {
        var id = cut.Record.CycleId;
        if (_kept.Contains(id))
            return;
        var row = CutStorage.Row(cut, _configured.GetValueOrDefault(id, saw.Blade ?? ""));
        if (_waiting.TryGetValue(id, out var before))
            _waiting[id] = row with { Checkpoint = before.Checkpoint };
        else
            _waiting.Add(id, row);
    }

    private async Task WriteAsync(int count, CancellationToken cancellation)
    {
        var rows = _waiting.Values.Take(count).ToList();
        for (var i = 0; i < count; i++)
        {
            _configured.Remove(_waiting.GetAt(0).Key);
            _waiting.RemoveAt(0);
        }

        _changed += await writer.CorrectAsync(rows, cancellation);
    }
}
