using System.Text.Json.Nodes;

namespace SawEdge.Torture.Servers;

/// <summary>Everything that a destination can be sent.</summary>
internal static class AllPoints
{
    /// <summary>The setting <c>points</c> of a destination.</summary>
    public static JsonArray Node() => ["cycles", "alarms", "states", "oee", "stops", "profiles", "signals", "gateway"];
}
