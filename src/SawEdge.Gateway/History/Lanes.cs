namespace SawEdge.Gateway.History;

/// <summary>
/// The names of the lanes that lead to a destination, as consumers in the history: cycles and alarms go by the destination's own name, the others by that and
/// what is named here. No destination can be called so.
/// </summary>
public static class Lanes
{
    /// <summary>Figures of the hours; its cursor counts numbers of <c>account_hours</c>.</summary>
    public const string Hours = "/" + Consumers.Hours;

    /// <summary>Profiles; its cursor counts entries of the journal.</summary>
    public const string Profiles = "/" + Consumers.Profiles;

    /// <summary>Samples of signals; its cursor counts numbers of <c>signal_samples</c>.</summary>
    public const string Signals = "/" + Consumers.Signals;

    /// <summary>The gateway's health; its cursor counts <c>health_reports</c>.</summary>
    public const string Gateway = "/" + Consumers.Gateway;

    /// <summary>All of them.</summary>
    public static IReadOnlyList<string> All { get; } = [Hours, Profiles, Signals, Gateway];
}

/// <summary>Who is to have something before it is cleared away.</summary>
/// <param name="Consumers">Their names.</param>
/// <param name="GiveUp">Whether it goes all the same, and is counted as gone for those who do not have it.</param>
public sealed record Takers(IReadOnlyCollection<string> Consumers, bool GiveUp = false)
{
    /// <summary>Nobody.</summary>
    public static Takers None { get; } = new([]);
}
