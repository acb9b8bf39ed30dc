using System.Globalization;
using System.Text.RegularExpressions;

namespace SawEdge.Gateway.Forwarding;

/// <summary>What a server said to a batch, or that it said nothing.</summary>
/// <param name="Status">HTTP status; 0 where no answer came.</param>
/// <param name="Message">The server's words, or why no answer came.</param>
/// <param name="RetryAfter">How long the server asks us to wait, or null.</param>
internal sealed record ServerAnswer(int Status, string Message = "", TimeSpan? RetryAfter = null)
{
    /// <summary>Whether no answer came in time: the request may have been too much for a slow way.</summary>
    public bool TimedOut { get; init; }
}

/// <summary>What to do after an answer.</summary>
internal enum Verdict
{
    /// <summary>Stored: go on.</summary>
    Accepted,

    /// <summary>The server or the way to it is in trouble that passes by itself: wait and send the same again.</summary>
    Wait,

    /// <summary>Somebody has to mend an address, a right or a bucket: say so, wait and send the same again.</summary>
    Mend,

    /// <summary>Too much, or something in it is bad: send each half alone.</summary>
    Split,

    /// <summary>This point will never be taken, nor any that was sent with it: set it aside with the server's reason.</summary>
    SetAside,
}

/// <summary>What to do for which answer. Pure.</summary>
/// <remarks>Status codes: RFC 9110 section 15; what the write path answers with them: the InfluxDB v2 API's documentation of /api/v2/write.</remarks>
internal static partial class DeliveryRules
{
    /// <summary>The shortest wait that a server can ask for: "at once" from a server in trouble would be a hot loop.</summary>
    public static readonly TimeSpan ShortestWait = TimeSpan.FromSeconds(1);

    /// <summary>The longest wait that a server can ask for: a mistaken header must not stop delivery for a day.</summary>
    public static readonly TimeSpan LongestAskedWait = TimeSpan.FromMinutes(10);

    /// <summary>What to do.</summary>
    /// <remarks>
    /// Only 204 is a yes: 1.x and 2.x write paths answer nothing else, and any other 2xx is somebody else's page, as that
    /// of a guest network, behind which the points would be lost.
    /// </remarks>
    /// <param name="status">HTTP status; 0 where no answer came.</param>
    /// <param name="points">Points in the batch.</param>
    public static Verdict Judge(int status, int points) => status switch
    {
        204 => Verdict.Accepted,
        400 or 413 or 422 => points > 1 ? Verdict.Split : Verdict.SetAside,
        0 or 408 or 425 or 429 or >= 500 => Verdict.Wait,
        _ => Verdict.Mend,
    };

    /// <summary>The same with the server's words: where they say that every point was dropped, halves would fare no better.</summary>
    /// <remarks>
    /// As servers of the 1.x and 2.x lines put it: "partial write: points beyond retention policy dropped=5000". A year of points that are older
    /// than a server keeps them would otherwise be sent and refused one by one.
    /// </remarks>
    /// <param name="answer">The answer.</param>
    /// <param name="points">Points in the batch.</param>
    public static Verdict Judge(ServerAnswer answer, int points)
    {
        var verdict = Judge(answer.Status, points);
        return verdict == Verdict.Split && answer.Status != 413 && Dropped().Match(answer.Message) is { Success: true } match && int.TryParse(match.Groups[1].ValueSpan, NumberStyles.None, CultureInfo.InvariantCulture, out var dropped) && dropped == points
            ? Verdict.SetAside
            : verdict;
    }

    /// <summary>The wait that the server asked for, within bounds, or null to follow the usual back-off.</summary>
    public static TimeSpan? WaitFor(ServerAnswer answer) => answer.RetryAfter switch
    {
        null => null,
        var asked when asked < ShortestWait => ShortestWait,
        var asked when asked > LongestAskedWait => LongestAskedWait,
        var asked => asked,
    };

    /// <summary>How much longer a batch may wait to fill.</summary>
    /// <param name="waiting">Points that wait.</param>
    /// <param name="full">Points of a full batch.</param>
    /// <param name="age">How long the oldest has waited; a clock that was set may make it negative or huge.</param>
    /// <param name="longest">The longest that a point may wait.</param>
    /// <returns>Zero to send now.</returns>
    public static TimeSpan Fill(long waiting, int full, TimeSpan age, TimeSpan longest)
    {
        if (waiting >= full || age >= longest)
            return TimeSpan.Zero;
        return age < TimeSpan.Zero ? longest : longest - age;
    }

    [GeneratedRegex(@"^partial write: .*\bdropped=([0-9]+)$", RegexOptions.Singleline)]
    private static partial Regex Dropped();
}
