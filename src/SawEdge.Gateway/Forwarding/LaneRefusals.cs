using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Forwarding;

/// <summary>Says what a server refuses of a lane: the first of a row with its reason, and how many there were when all is taken again. The history lists all.</summary>
internal sealed class LaneRefusals(ILogger logger, string lane, Destination destination)
{
    private long _setAside;

    /// <summary>A point was set aside.</summary>
    public void SetAside(string what, string reason)
    {
        if (_setAside++ == 0)
            ForwardingLog.SetAside(logger, lane, destination.Server, what, reason);
    }

    /// <summary>A whole batch was taken, nothing refused.</summary>
    public void AllTaken()
    {
        if (_setAside == 0)
            return;
        ForwardingLog.NothingRefusedAnyMore(logger, lane, destination.Server, _setAside);
        _setAside = 0;
    }
}
