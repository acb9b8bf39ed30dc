using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Tests.Configuration;

/// <summary>A configuration with alarms and without a mistake, to change in one place.</summary>
internal static class AlarmSample
{
    private const string Good = """
        {
          "rules": [
            { "name": "motor hot", "on": "signal", "signal": "motor_load", "above": "7 kW", "deadband": "500 W", "onDelay": "30 s", "while": [ "cutting" ] },
            { "name": "stalled", "on": "finding", "finding": "stall", "cuts": { "least": 2 } },
            { "name": "slow cuts", "on": "cycle", "cycle": "cut_time_ratio", "above": 1.5, "clearAt": 1.2, "cuts": { "least": 3, "of": 5 } },
            { "name": "broken off", "on": "cycle", "cycle": "outcome", "is": [ "aborted", "interrupted" ] },
            { "name": "worn", "on": "blade", "blade": "rise", "above": "40 %" },
            { "name": "low availability", "on": "oee", "oee": "availability", "below": "40 %", "clearAt": "50 %", "over": "8 h" },
            { "name": "line dead", "on": "communication", "communication": "disconnected", "above": "30 s", "silences": true },
            { "name": "disk", "on": "gateway", "gateway": "disk_free", "below": "2 GB", "severity": "high" }
          ],
          "contacts": [
            { "name": "maintenance", "channel": "mail", "to": [ "maintenance@riverbend.example" ], "escalateAfter": "30 min", "escalateTo": "lead" },
            { "name": "lead", "channel": "hook", "onlyEscalated": true }
          ],
          "channels": [
            { "name": "mail", "kind": "email", "host": "mail.riverbend.example", "from": "saws@riverbend.example" },
            { "name": "hook", "kind": "webhook", "url": "https://hooks.riverbend.example/saws?key=1" },
            { "name": "states", "kind": "mqtt", "broker": "hall" }
          ]
        }
        """;

    /// <summary>The good configuration with settings changed.</summary>
    /// <param name="changes">The settings, as findings name them, and what stands there, or null to take it away.</param>
    public static string With(params (string Path, string? Json)[] changes) =>
        Sample.With([("alarms", Good), ("calendar", "{ \"shifts\": [ { \"name\": \"early\", \"from\": \"06:00\", \"to\": \"14:00\" } ] }"), ("saws[0].group", "\"bay-1\""), ("saws[0].machine", "{ \"ratedPower\": \"7.5 hp\" }"), .. changes]);

    /// <summary>What the alarms of a good configuration become.</summary>
    public static AlarmOptions Alarms(params (string Path, string? Json)[] changes) => Sample.Load(With(changes)).Options().Alarms;
}
