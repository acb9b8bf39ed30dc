namespace SawEdge.Core.Cycles;

/// <summary>What is wrong with the signals of a cycle, so far as its frames show it.</summary>
[Flags]
public enum SignalDoubts : byte
{
    /// <summary>Nothing was noticed.</summary>
    None = 0,

    /// <summary>The load was read and never changed in the whole cycle.</summary>
    LoadConstant = 1,

    /// <summary>The load, or the load above idle, lay below zero for a notable part of the cut, by more than its noise.</summary>
    LoadNegative = 2,

    /// <summary>The load stood at exactly its greatest value for a quarter of the cut or more although it scatters otherwise: the end of the transducer's range.</summary>
    LoadSaturated = 4,

    /// <summary>The head position jumped in the cut by more than a saw can move between two frames; depth and profile along the depth are not given then.</summary>
    HeadJumps = 8,

    /// <summary>The head position rose while the load showed a running cut: its sign is reversed. The head is not used then.</summary>
    HeadBackwards = 16,

    /// <summary>The blade speed read zero or less in a running cut; it is not used then.</summary>
    BladeSpeedZero = 32,
}
