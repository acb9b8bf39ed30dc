using System.Globalization;

namespace SawEdge.Core.Cycles;

/// <summary>
/// What the controller's part counter tells of a time in which nobody saw the saw: the parts that it counted beyond those of cycles that are
/// recorded. Nothing is made up: where the counter was set back, or came to its end, they are not known.
/// </summary>
/// <param name="Counted">Parts that were counted and whose cycles were not seen. Where <paramref name="IsWhole"/> is false, those that are known of.</param>
/// <param name="IsWhole">Whether these are all; false where the counter fell meanwhile.</param>
/// <param name="From">When the saw was last seen before.</param>
/// <param name="To">When the counter was read again.</param>
public sealed record UnseenParts(long Counted, bool IsWhole, DateTimeOffset From, DateTimeOffset To)
{
    /// <summary>It in words, as in the notes of the record that comes next: always the same, so that they can be looked for.</summary>
    public string Words => (IsWhole, Counted) switch
    {
        (true, _) => Said($"the controller counted {Cycles}, {Span}"),
        (false, 0) => Said($"the part counter was set back or rolled over while nothing was seen, {Span}: how many parts were made is not known"),
        _ => Said($"the controller counted {Cycles}, {Span}, and then the part counter was set back or rolled over: how many more were made is not known"),
    };

    private string Cycles => Counted == 1 ? "1 part of a cycle that was not seen" : Said($"{Counted} parts of cycles that were not seen");

    // Rounded as what is stored is: after a start the history's own time of the last look stands here, in a replay the frame's.
    private string Span => Said($"between {CutFigureRounding.Moment(From):yyyy-MM-dd'T'HH:mm:ss.fff'Z'} and {CutFigureRounding.Moment(To):yyyy-MM-dd'T'HH:mm:ss.fff'Z'}");

    /// <summary>Both together, where two such times lie before one record.</summary>
    internal static UnseenParts Join(UnseenParts? earlier, UnseenParts later) => earlier is null
        ? later
        : new UnseenParts(earlier.Counted + later.Counted, earlier.IsWhole && later.IsWhole, earlier.From, later.To);

    private static string Said(FormattableString words) => words.ToString(CultureInfo.InvariantCulture);
}
