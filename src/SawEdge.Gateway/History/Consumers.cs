namespace SawEdge.Gateway.History;

/// <summary>
/// Names of those who keep a place in the history. A destination with several lanes has several places: the journal's under its own name, each
/// other one under that name, a slash and the lane. What a place or a refusal counts follows from the lane.
/// </summary>
internal static class Consumers
{
    /// <summary>The lane of the figures of the hours: its numbers are those of <c>account_hours</c>.</summary>
    public const string Hours = "oee";

    /// <summary>The lane of profiles: its numbers are those of the journal.</summary>
    public const string Profiles = "profiles";

    /// <summary>The lane of signals: its numbers are those of <c>signal_samples</c>.</summary>
    public const string Signals = "signals";

    /// <summary>The lane of the gateway's health: its numbers are those of <c>health_reports</c>.</summary>
    public const string Gateway = "gateway";

    /// <summary>SQL: whether the numbers of a row <c>r</c> of a table with a column <c>consumer</c> are those of the journal.</summary>
    public const string CountsJournal = $"(r.consumer NOT LIKE '%/{Hours}' AND r.consumer NOT LIKE '%/{Signals}' AND r.consumer NOT LIKE '%/{Gateway}')";

    /// <summary>SQL: whether a row of a table with a column <c>consumer</c> belongs to <c>@consumer</c> or one of its lanes.</summary>
    public const string OrLane = "(consumer = @consumer OR substr(consumer, 1, length(@consumer) + 1) = @consumer || '/')";

    /// <summary>The name of a lane of a destination; no destination can be called so.</summary>
    public static string NameOf(string destination, string lane) => destination + "/" + lane;

    /// <summary>Whether a consumer is a lane of a destination.</summary>
    public static bool IsLane(string consumer, string lane) => consumer.EndsWith("/" + lane, StringComparison.Ordinal);
}
