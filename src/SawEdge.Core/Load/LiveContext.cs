using SawEdge.Core.Cutting;

namespace SawEdge.Core.Load;

/// <summary>What is known beside a frame while the saw runs, without looking back.</summary>
/// <param name="Cycle">Number of the open cycle; 0: none is open. Another number is another cycle.</param>
/// <param name="IdleLoadKw">Load with the blade in air learned from earlier cycles, kW, or NaN.</param>
/// <param name="BottomMm">Head height at breakthrough learned from earlier cycles, mm, or NaN.</param>
/// <param name="JobId">The job of the cycle as the controller names it, or empty.</param>
/// <param name="Job">That job in the job list, or null where it is in none.</param>
public readonly record struct LiveContext(long Cycle, double IdleLoadKw, double BottomMm, string JobId, CutJob? Job)
{
    /// <summary>Whether a cycle is open.</summary>
    public bool CycleOpen => Cycle > 0;
}
