using SawEdge.Core;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <summary>Turns finished cuts of one saw into what the history stores of them; the same in live operation, replay and computing anew.</summary>
/// <param name="configuredBlade">The blade that the configuration names, or null.</param>
internal sealed class CutStorage(string? configuredBlade)
{
    /// <summary>Cycles between two places from which records can be computed anew.</summary>
    public const int CheckpointEvery = 500;

    /// <summary>Cycles since the last such place.</summary>
    public int SinceCheckpoint { get; set; }

    /// <summary>The rows of cuts that were finished together, in order; the last carries a checkpoint where one is due.</summary>
    /// <param name="cuts">The cuts.</param>
    /// <param name="recorder">The recorder that made them, as it is after the last of them.</param>
    public FinishedCycle[] Rows(IReadOnlyList<FinishedCut> cuts, CutRecorder recorder)
    {
        var rows = new FinishedCycle[cuts.Count];
        for (var i = 0; i < rows.Length; i++)
            rows[i] = Row(cuts[i], configuredBlade ?? "");
        SinceCheckpoint += rows.Length;
        if (SinceCheckpoint >= CheckpointEvery)
        {
            SinceCheckpoint = 0;
            rows[^1] = rows[^1] with { Checkpoint = MemoryCodec.EncodeCheckpoint(recorder.Save()) };
        }

        return rows;
    }

    /// <summary>The row of one cut.</summary>
    public static FinishedCycle Row(FinishedCut cut, string configuredBlade) => new()
    {
        Record = cut.Record,
        Profile = cut.Profile,
        Evidence = cut.Evidence,
        ConfiguredBlade = configuredBlade,
        Assessment = cut.Assessment,
    };
}
