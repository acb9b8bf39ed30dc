namespace SawEdge.Gateway.Forwarding;

/// <summary>How far a period was sent again.</summary>
public sealed class RebuildResult
{
    /// <summary>So many refusals are kept with their reasons; of more only the number.</summary>
    public const int MostKept = 100;

    private readonly List<(string What, string Reason)> _refusals = [];

    /// <summary>Points of cycles that the server took.</summary>
    public long Cycles { get; internal set; }

    /// <summary>Points of events of alarms that the server took.</summary>
    public long AlarmEvents { get; internal set; }

    /// <summary>Hours of saws whose points were sent.</summary>
    public long Hours { get; internal set; }

    /// <summary>Points of profiles that the server took.</summary>
    public long Profiles { get; internal set; }

    /// <summary>Points of signals that the server took.</summary>
    public long Signals { get; internal set; }

    /// <summary>Points of the gateway's health that the server took.</summary>
    public long Health { get; internal set; }

    /// <summary>Points of hours that the server took.</summary>
    public long OfHours { get; internal set; }

    /// <summary>All points that the server took. What changed on the way was sent, and is counted, again.</summary>
    public long Points { get; internal set; }

    /// <summary>Points that the server refused for good.</summary>
    public long Refused { get; private set; }

    /// <summary>The first of them, each with the server's words.</summary>
    public IReadOnlyList<(string What, string Reason)> Refusals => _refusals;

    /// <summary>Why it was not gone on with: what somebody has to mend; null where all was sent.</summary>
    public string? NeedsMending { get; internal set; }

    internal void Refuse(string what, string reason)
    {
        Refused++;
        if (_refusals.Count < MostKept)
            _refusals.Add((what, reason));
    }
}
