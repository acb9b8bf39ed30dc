using SawEdge.Core.Signals;

namespace SawEdge.Simulator.Saws;

/// <summary>Something that can be asked for its signals of this moment, from several threads.</summary>
public interface IFrameSource
{
    /// <summary>Reads all signals of this moment.</summary>
    /// <returns>False where the controller does not answer at this moment.</returns>
    bool TryRead(out SignalFrame frame);
}
