using SawEdge.Core;
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
    private readonly Dictionary<string, CutJob?> _jobs = new(StringComparer.Ordinal);
    private int _changed;

    /// <summary>Computes.</summary>
    /// <param name="from">Records before this moment are right as they are; null: all are computed.</param>
    /// <param name="cancellation">Breaks off; what was not reached stays, and the next run reaches it.</param>
    /// <exception cref="HistoryException">The history cannot be read or written.</exception>
    public async Task<RebuildOutcome> RunAsync(DateTimeOffset? from, CancellationToken cancellation)
    {
        var entries = await reader.BladeEntriesAsync(saw.Machine.Name, cancellation);
        var (recorder, begin) = await BeginAsync(from, cancellation);
        var blade = saw.Blade ?? "";
        recorder.Entries = entries.Book;
        await writer.DropCheckpointsAsync(saw.Machine.Name, begin, cancellation);

        var (cycles, unreadable, since) = (0, 0, 0);
        await foreach (var stored in reader.EvidenceAsync(saw.Machine.Name, begin, cancellation))
        {
            if (stored.ConfiguredBlade != blade)
                recorder = With(recorder, blade = stored.ConfiguredBlade);
            var job = Job(stored.Job, out var isReadable);
            if (!isReadable)
            {
                unreadable++;
                _kept.Add(stored.Record.CycleId);
            }

            _configured[stored.Record.CycleId] = stored.ConfiguredBlade;
            foreach (var cut in recorder.Take(new CutEvidence(stored.Cut, job, stored.Findings)))
                Wait(cut);
            cycles++;
            if (++since == CutStorage.CheckpointEvery)
            {
                since = 0;
                if (_waiting.TryGetValue(stored.Record.CycleId, out var row))
                    _waiting[stored.Record.CycleId] = row with { Checkpoint = MemoryCodec.EncodeCheckpoint(recorder.Save()) };
            }

            while (_waiting.Count >= Waiting + WrittenTogether)
                await WriteAsync(WrittenTogether, cancellation);
        }

        while (_waiting.Count > 0)
            await WriteAsync(Math.Min(_waiting.Count, WrittenTogether), cancellation);
        if (blade != (saw.Blade ?? ""))
            recorder = With(recorder, saw.Blade ?? "");
        return new RebuildOutcome(recorder, cycles, _changed, unreadable, since, entries.Last);
    }

    private async Task<(CutRecorder Recorder, DateTimeOffset? After)> BeginAsync(DateTimeOffset? from, CancellationToken cancellation)
    {
        var recorder = saw.NewRecorder();
        if (from is null || await reader.CheckpointAsync(saw.Machine.Name, from.Value - Margin, MemoryCodec.CheckpointVersion, cancellation) is not { } checkpoint)
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

    // The configuration named another blade then.
    private CutRecorder With(CutRecorder recorder, string blade)
    {
        var next = new CutRecorder(saw.Machine, saw.Settings, blade.Length > 0 ? blade : null) { Entries = recorder.Entries };
        next.Restore(recorder.Save());
        return next;
    }

    private CutJob? Job(IReadOnlyDictionary<string, string>? texts, out bool isReadable)
    {
        isReadable = true;
        if (texts is null)
            return null;
        var key = string.Join('\n', texts.Select(text => $"{text.Key}={text.Value}"));
        if (!_jobs.TryGetValue(key, out var job))
            _jobs[key] = job = JobBook.ReadJob(texts, saw.Catalogue, out _);
        isReadable = job is not null;
        return job;
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
