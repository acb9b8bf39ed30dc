namespace SawEdge.Gateway.Configuration;

/// <summary>The words for what a destination is sent.</summary>
public static class PointChoices
{
    /// <summary>Each single choice with its word and what it brings, in the order in which they are told.</summary>
    public static IReadOnlyList<(string Word, PointChoice Choice, string Meaning)> All { get; } =
    [
        ("cycles", PointChoice.Cycles, "A point a cut."),
        ("alarms", PointChoice.Alarms, "A point an event of an alarm."),
        ("states", PointChoice.States, "A point where a saw begins to do something else."),
        ("oee", PointChoice.Oee, "A point a saw and hour with seconds and counts for OEE."),
        ("stops", PointChoice.Stops, "A point a saw, hour and reason to stand."),
        ("profiles", PointChoice.Profiles, "48 points a cut: the load along its depth."),
        ("signals", PointChoice.Signals, "A point a signal of a saw and interval of signals.every: mean, least, greatest, last."),
        ("gateway", PointChoice.Gateway, "A point a minute of the gateway itself, of each saw's data and of each destination."),
    ];

    /// <summary>The word for a single choice.</summary>
    public static string ToWord(this PointChoice choice) => All.First(known => known.Choice == choice).Word;
}
