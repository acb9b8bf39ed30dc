namespace SawEdge.Gateway.Configuration;

/// <summary>What an InfluxDB destination is sent.</summary>
[Flags]
public enum PointChoice
{
    /// <summary>Nothing.</summary>
    None = 0,

    /// <summary>Cycles: measurement <c>cycle</c>.</summary>
    Cycles = 1,

    /// <summary>Events of alarms: measurement <c>alarm</c>.</summary>
    Alarms = 2,

    /// <summary>What saws do: measurement <c>state</c>.</summary>
    States = 4,

    /// <summary>Where the time of the hours went: measurement <c>oee</c>.</summary>
    Oee = 8,

    /// <summary>Stops by reason: measurement <c>stop</c>.</summary>
    Stops = 16,

    /// <summary>The load along the depth of each cut: measurement <c>load_profile</c>.</summary>
    Profiles = 32,

    /// <summary>The downsampled signals: measurement <c>signal</c>.</summary>
    Signals = 64,

    /// <summary>The gateway's own health: measurements <c>gateway</c>, <c>gateway_saw</c>, <c>gateway_destination</c>.</summary>
    Gateway = 128,

    /// <summary>What is sent unless told: all but the signals, which are more than everything else together.</summary>
    Usual = Cycles | Alarms | States | Oee | Stops | Profiles | Gateway,

    /// <summary>What is made of the figures of the hours.</summary>
    Hours = States | Oee | Stops,
}
