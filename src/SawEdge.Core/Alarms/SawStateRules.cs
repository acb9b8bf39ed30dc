using SawEdge.Core.Cycles;

namespace SawEdge.Core.Alarms;

/// <summary>What a saw is doing, as far as rules may ask. Shares and loads are common practice, no source.</summary>
internal static class SawStateRules
{
    /// <summary>Load above idle from which on a blade is in the stock, as a share of idle; the live watch's own.</summary>
    private const double CutShare = 0.15;

    /// <summary>Load below which no blade turns, as a share of idle.</summary>
    private const double OffShare = 0.3;

    /// <summary>The same where the idle load is not known yet, kW: what a transducer shows of nothing.</summary>
    private const double OffKw = 0.05;

    /// <summary>The states that hold.</summary>
    /// <param name="phase">What the detector says.</param>
    /// <param name="cuttingBit">The controller's cutting bit, 0 or 1; NaN: none.</param>
    /// <param name="bladeBit">The controller's bit for the blade, 0 or 1; NaN: none.</param>
    /// <param name="loadKw">Motor load, kW; NaN: not known.</param>
    /// <param name="idleKw">Load with the blade in air, kW; NaN: not known.</param>
    public static SawStates Of(CyclePhase phase, double cuttingBit, double bladeBit, double loadKw, double idleKw)
    {
        var states = phase switch
        {
            CyclePhase.Cycle => SawStates.Cycle,
            CyclePhase.Stopped => SawStates.Stopped,
            _ => SawStates.Idle,
        };
        if (double.IsNaN(cuttingBit) ? phase == CyclePhase.Cycle && loadKw > (1 + CutShare) * idleKw : cuttingBit != 0)
            states |= SawStates.Cutting;
        if (double.IsNaN(bladeBit) ? loadKw > (double.IsNaN(idleKw) ? OffKw : OffShare * idleKw) : bladeBit != 0)
            states |= SawStates.BladeRunning;
        return states;
    }
}
