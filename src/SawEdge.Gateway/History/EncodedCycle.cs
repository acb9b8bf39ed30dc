namespace SawEdge.Gateway.History;

/// <summary>A finished cycle with the bytes that are stored of it, made by the saw's own loop: the one writer of all saws only has to insert them.</summary>
/// <param name="Cycle">The cycle.</param>
/// <param name="Profile">Its profile; null where there is none.</param>
/// <param name="Evidence">What it was computed from; null where that is not known.</param>
/// <param name="Assessment">What the load score says of it; null where nothing.</param>
internal sealed record EncodedCycle(FinishedCycle Cycle, byte[]? Profile, byte[]? Evidence, byte[]? Assessment)
{
    /// <summary>Encodes cycles.</summary>
    /// <exception cref="HistoryException">One of them cannot be stored.</exception>
    public static EncodedCycle[] Of(IReadOnlyList<FinishedCycle> cycles)
    {
        try
        {
            return [.. cycles.Select(cycle => new EncodedCycle(
                cycle,
                cycle.Profile is { } profile ? ProfileCodec.Encode(profile) : null,
                cycle.Evidence is { } evidence ? EvidenceCodec.Encode(evidence, cycle.ConfiguredBlade) : null,
                cycle.Assessment is { } assessment ? AssessmentCodec.Encode(assessment) : null))];
        }
        catch (ArgumentException e)
        {
            throw new HistoryException($"The history could not store this: {e.Message}", e);
        }
    }
}
