using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Explain;

/// <summary>One cut with everything that is stored of it.</summary>
/// <param name="Record">The record.</param>
/// <param name="Evidence">What it was computed from; null where that is not stored.</param>
/// <param name="Assessment">What the load score says; null where nothing is stored.</param>
internal sealed record Explained(CycleRecord Record, StoredEvidence? Evidence, LoadAssessment? Assessment)
{
    /// <summary>Energy that a normal cut like this one would have taken, kJ; null where the profile does not tell.</summary>
    public double? ExpectedEnergyKj
    {
        get
        {
            if (Assessment?.Profile is not { } expected || Evidence?.Cut.Profile is not { } measured || Record.IdleLoadKw is not { } idle || expected.ExpectedKw.Count != measured.Seconds.Count)
                return null;
            var sum = 0.0;
            for (var i = 0; i < measured.Seconds.Count; i++)
            {
                if (measured.Seconds[i] > 0)
                    sum += (expected.ExpectedKw[i] - idle) * measured.Seconds[i];
            }

            return double.IsFinite(sum) ? sum : null;
        }
    }

    /// <summary>Whether the cut is called unusual.</summary>
    public bool IsUnusual => Assessment is { Score: { } score } assessment && score >= assessment.Threshold;

    /// <summary>Finds the cut that is asked for.</summary>
    /// <param name="folder">Where.</param>
    /// <param name="what">Identity of a cycle, or a saw.</param>
    /// <param name="at">A moment: the last cycle of the saw that had begun then; null: its last one.</param>
    /// <param name="moments">Reads the moment.</param>
    /// <param name="cancellation">Ends the search.</param>
    /// <exception cref="CommandException">There is none.</exception>
    public static async Task<Explained> FindAsync(NamedFolder folder, string what, string? at, MomentText moments, CancellationToken cancellation)
    {
        var reader = folder.Open();
        var record = at is null ? await reader.CycleAsync(what, cancellation) : null;
        if (record is null)
        {
            var saws = await folder.SawsAsync(reader, cancellation);
            if (!saws.Contains(what))
                throw new CommandException($"There is no cycle and no saw {Words.Quoted(what)}; {(saws.Count == 0 ? "the history is empty." : NamedFolder.Hint(what, saws))}");
            DateTimeOffset? moment = at is null ? null : moments.Parse("the time", at);
            record = await reader.LastCycleAsync(what, moment, cancellation)
                ?? throw new CommandException(moment is null ? $"{what} has no cycle yet." : $"{what} has no cycle that began at {moments.Of(moment.Value)} or before.");
        }

        return new Explained(record, await reader.EvidenceAsync(record.CycleId, cancellation), await reader.AssessmentAsync(record.CycleId, cancellation));
    }
}
