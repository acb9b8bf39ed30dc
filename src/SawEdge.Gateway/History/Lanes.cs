namespace SawEdge.Gateway.History;

/// <summary>
/// The names of the lanes that lead to a destination, as consumers in the history: cycles and alarms go by the destination's own name, the others by that and
/// what is named here. No destination can be called so.
/// </summary>
public static class Lanes
{
    /// <summary>Figures of the hours; its cursor counts numbers of <c>account_hours</c>.</summary>
    public const string Hours = "/oee";

    /// <summary>Profiles; its cursor counts entries of the journal.</summary>
    public const string Profiles = "/profiles";

    /// <summary>Samples of signals; its cursor counts numbers of <c>signal_samples</c>.</summary>
    public const string Signals = "/signals";

    /// <summary>The gateway's health; its cursor counts <c>health_reports</c>.</summary>
    public const string Gateway = "/gateway";

    /// <summary>All of them.</summary>
    public static IReadOnlyList<string> All { get; } = [Hours, Profiles, Signals, Gateway];

    /// <summary>SQL: whether a row of a table with a column <c>consumer</c> belongs to <c>@consumer</c> or one of its lanes.</summary>
    internal const string OrLane = "(consumer = @consumer OR substr(consumer, 1, length(@consumer) + 1) = @consumer || '/')";

    /// <summary>The table whose column <c>seq</c> a consumer's numbers are; null where it is the journal.</summary>
    internal static string? TableOf(string consumer) =>
        consumer.EndsWith(Hours, StringComparison.Ordinal) ? "account_hours"
        : consumer.EndsWith(Signals, StringComparison.Ordinal) ? "signal_samples"
        : consumer.EndsWith(Gateway, StringComparison.Ordinal) ? "health_reports" : null;
}

/// <summary>Who is to have something before it is cleared away.</summary>
/// <param name="Consumers">Their names.</param>
/// <param name="GiveUp">Whether it goes all the same, and is counted as gone for those who do not have it.</param>
public sealed record Takers(IReadOnlyCollection<string> Consumers, bool GiveUp = false)
{
    /// <summary>Nobody.</summary>
    public static Takers None { get; } = new([]);
}
