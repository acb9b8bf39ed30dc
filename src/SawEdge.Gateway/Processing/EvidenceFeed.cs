using System.Runtime.CompilerServices;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <summary>A stored cycle that went through a recorder again.</summary>
/// <param name="Stored">What was stored.</param>
/// <param name="IsReadable">Whether its job could be read; where not, what came out is worth less than what is stored.</param>
/// <param name="Finished">What came out.</param>
internal readonly record struct FedCut(StoredEvidence Stored, bool IsReadable, IReadOnlyList<FinishedCut> Finished);

/// <summary>Takes stored evidence of a saw through a recorder, in order, with the blade that the configuration named at each cycle.</summary>
internal sealed class EvidenceFeed(HistoryReader reader, SawSetup saw, CutRecorder recorder)
{
    private readonly Dictionary<string, CutJob?> _jobs = new(StringComparer.Ordinal);

    /// <summary>Feeds the cycles that started after a moment; null: all. Afterwards the recorder knows the blade that the configuration names now.</summary>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async IAsyncEnumerable<FedCut> RunAsync(DateTimeOffset? after, [EnumeratorCancellation] CancellationToken cancellation)
    {
        await foreach (var stored in reader.EvidenceAsync(saw.Machine.Name, after, cancellation))
        {
            if (stored.ConfiguredBlade != recorder.ConfiguredBlade)
                recorder.ConfiguredBlade = stored.ConfiguredBlade;
            var job = Job(stored.Job, out var isReadable);
            yield return new FedCut(stored, isReadable, recorder.Take(new CutEvidence(stored.Cut, job, stored.Findings)));
        }

        recorder.ConfiguredBlade = saw.Blade ?? "";
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
}
