using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Alarms;

/// <summary>
/// All rules about one saw's signals, findings, cycles and blade. Runs in the saw's own loop, behind the pipeline, on the same
/// data: live, in a replay and in a backtest. Deterministic, no clock; allocates nothing per frame unless a condition comes or goes.
/// Not thread safe.
/// </summary>
public sealed class SawAlarmWatch
{
    /// <summary>Prepares the watch of one saw.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="rules">All rules; those that are not about this saw, or of other topics, are passed over.</param>
    public SawAlarmWatch(string saw, IReadOnlyList<AlarmRule> rules) => throw new NotImplementedException();

    /// <summary>Cuts before the present that a restart must feed to <see cref="Warm"/> so that "m of n cuts" goes on.</summary>
    public int Memory => throw new NotImplementedException();

    /// <summary>Takes a frame after the pipeline took it.</summary>
    /// <param name="frame">The frame.</param>
    /// <param name="phase">What the pipeline says the saw is doing.</param>
    /// <param name="idleKw">Load with the blade in air, as learned, kW; NaN: not known.</param>
    public void Push(in SignalFrame frame, CyclePhase phase, double idleKw) => throw new NotImplementedException();

    /// <summary>Takes a finding of the live watch.</summary>
    public void Take(LiveFinding finding) => throw new NotImplementedException();

    /// <summary>Takes a finished cut; one that comes again with a corrected record is passed over.</summary>
    public void Take(CycleRecord record, LoadAssessment? assessment) => throw new NotImplementedException();

    /// <summary>Takes a cut from before the restart: counted, but what changes by it is told by the next cut only if it still holds.</summary>
    public void Warm(CycleRecord record, LoadAssessment? assessment) => throw new NotImplementedException();

    /// <summary>Takes the next change, oldest first.</summary>
    public bool TryTake([NotNullWhen(true)] out ConditionChange? change) => throw new NotImplementedException();
}
