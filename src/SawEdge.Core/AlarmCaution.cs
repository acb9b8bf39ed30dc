namespace SawEdge.Core;

/// <summary>
/// The words that go with everything that sends a person to a machine: the one place that holds them, for likely causes, alarms and
/// messages. Common practice, no source: local codes and the plant's own procedures stand above them.
/// </summary>
public static class AlarmCaution
{
    /// <summary>Where somebody will open a guard or reach for the blade.</summary>
    public const string LockOut = "Stop the saw, isolate it, lock out and tag out by the plant's procedure before opening a guard or reaching for the blade; wear gloves, a blade is sharp and springs.";

    /// <summary>Where somebody will go to the stock and not to the blade.</summary>
    public const string AtTheStock = "Stop the cycle before going to the stock; nobody reaches into the saw while it can start by itself.";

    /// <summary>Where somebody will look at wiring.</summary>
    public const string Wiring = "Work on wiring is for qualified people, with the supply isolated.";

    /// <summary>What every message says once that holds a caution: what the gateway is not, and who decides.</summary>
    public const string General = "SawEdge is no safety device: it sees late and may see wrongly, and a saw that it calls stopped may start. Before opening a guard or touching the blade: stop, isolate, lock out and tag out by the plant's procedure. Local codes and qualified people decide.";
}
