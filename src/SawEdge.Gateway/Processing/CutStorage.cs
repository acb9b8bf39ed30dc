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
            rows[^1] = rows[^1] with { Checkpoint = Checkpoint(recorder, rows[^1].Record.StartedAt) };
        }

        return rows;
    }

    /// <summary>What a recorder has learned, as a place from which records can be computed anew.</summary>
    /// <param name="recorder">The recorder.</param>
    /// <param name="started">Start of the last cycle that it took.</param>
    public static StoredCheckpoint Checkpoint(CutRecorder recorder, DateTimeOffset started)
    {
        var memory = recorder.Save();
        return new StoredCheckpoint(memory.TakeAgainFrom is { } again ? Before(again) : started, MemoryCodec.EncodeCheckpoint(memory));
    }

    /// <summary>A moment after which a cycle that started at another moment comes, and none before it: the history holds milliseconds.</summary>
    public static DateTimeOffset Before(DateTimeOffset started) => DateTimeOffset.FromUnixTimeMilliseconds(started.ToUnixTimeMilliseconds() - 1);

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
