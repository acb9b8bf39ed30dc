namespace SawEdge.Gateway.History;

/// <summary>
/// Names of those who keep a place in the history. A destination with several lanes has several places: the journal's under its own name, each
/// other one under that name, a slash and the lane. What a place or a refusal counts follows from the lane.
/// </summary>
internal static class Consumers
{
    /// <summary>The lane of the figures of the hours: its numbers are those of <c>account_hours</c>.</summary>
    public const string Hours = "oee";

    /// <summary>SQL: whether a row of a table with a column <c>consumer</c> belongs to <c>@consumer</c> or one of its lanes.</summary>
    public const string OrLane = "(consumer = @consumer OR substr(consumer, 1, length(@consumer) + 1) = @consumer || '/')";

    /// <summary>The name of a lane of a destination; no destination can be called so.</summary>
    public static string NameOf(string destination, string lane) => destination + "/" + lane;

    /// <summary>Whether a consumer is the lane of the figures of the hours of a destination.</summary>
    public static bool IsOfHours(string consumer) => consumer.EndsWith("/" + Hours, StringComparison.Ordinal);
}
