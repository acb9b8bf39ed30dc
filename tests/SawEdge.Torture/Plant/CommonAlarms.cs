using System.Text.Json.Nodes;

namespace SawEdge.Torture.Plant;

/// <summary>Rules that raise an alarm in each cut and clear it after: traffic.</summary>
internal static class CommonAlarms
{
    /// <summary>The section of the configuration.</summary>
    public static JsonNode Node() => JsonNode.Parse("""{ "rules": [ { "name": "cutting hard", "on": "signal", "signal": "motor_load", "above": "0.6 kW", "offDelay": "1 s" } ] }""")!;
}
