using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using SawEdge.Core.Notation;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Commands.Reports;

/// <summary>Moments as people at a terminal write and read them: in the time of the plant, see <see cref="NamedFolder.At"/>.</summary>
/// <param name="time">Clock and time zone.</param>
internal sealed partial class MomentText(TimeProvider time)
{
    /// <summary>What can be written, for messages and help.</summary>
    public const string Forms = "\"2026-03-02 14:30\" (local), 2026-03-02T13:30:00Z, \"20 min ago\" or \"yesterday\"";

    /// <summary>How a period can be written, for messages and help.</summary>
    public const string PeriodForms = "\"last week\", \"last 30 days\", 2026-03-02, \"2026-03-02 to 2026-03-08\", \"since 2026-03-02 14:30\" or \"before yesterday\"";

    private static readonly string[] LocalForms = ["yyyy-MM-dd HH:mm", "yyyy-MM-dd HH:mm:ss", "yyyy-MM-dd'T'HH:mm", "yyyy-MM-dd'T'HH:mm:ss"];

    /// <summary>A moment, local, to the minute, in the form that <see cref="Parse"/> reads.</summary>
    public string Of(DateTimeOffset moment) => TimeZoneInfo.ConvertTime(moment, time.LocalTimeZone).ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture);

    /// <summary>Reads a moment: RFC 3339, local without a zone, how long ago, or the begin of a day, week, month or year that is named (<see cref="DayWords"/>).</summary>
    /// <param name="option">The option it was given with, for the message.</param>
    /// <param name="text">What a person wrote.</param>
    /// <exception cref="CommandException">It is none; the message says what would be right.</exception>
    public DateTimeOffset Parse(string option, string text)
    {
        var written = text.Trim();
        if (Days(written) is { } days)
            return Begin(days.First);
        if (written.Equals("now", StringComparison.OrdinalIgnoreCase))
            return time.GetUtcNow();
        if (Rfc3339.TryParse(Encoding.UTF8.GetBytes(written), out var moment))
            return moment;
        if (Ago().Match(written) is { Success: true } ago)
            return time.GetUtcNow() - (Span(ago.Groups[1].Value) ?? throw NoTime(option, written));
        if (DateTime.TryParseExact(written, LocalForms, CultureInfo.InvariantCulture, DateTimeStyles.None, out var local))
            return Local(option, written, local);
        throw NoTime(option, written);
    }

    /// <summary>
    /// Reads a moment up to which something is meant: as <see cref="Parse"/>, but of a day, week, month or year that is named it is the end, so that
    /// from <c>yesterday</c> to <c>yesterday</c> is that whole day.
    /// </summary>
    /// <param name="option">The option it was given with, for the message.</param>
    /// <param name="text">What a person wrote.</param>
    /// <exception cref="CommandException">It is none; the message says what would be right.</exception>
    public DateTimeOffset ParseEnd(string option, string text) => Days(text.Trim()) is { } days ? Begin(days.Next) : Parse(option, text);

    /// <summary>Reads a period: days that are named, the last of some span, from one moment to another, or all since or before a moment.</summary>
    /// <param name="option">The option it was given with, for the message.</param>
    /// <param name="text">What a person wrote.</param>
    /// <exception cref="CommandException">It is none, or it ends before it begins; the message says what would be right.</exception>
    public Period ParsePeriod(string option, string text)
    {
        var written = text.Trim();
        var now = time.GetUtcNow();
        if (Days(written) is { } days)
            return new Period(Begin(days.First), Begin(days.Next));
        if (Last().Match(written) is { Success: true } last && Span(last.Groups[1].Value) is { } span)
            return new Period(now - span, now);
        if (FromTo().Match(written) is { Success: true } ends)
            return Between(option, ends.Groups[1].Value, ends.Groups[2].Value);
        if (Since().Match(written) is { Success: true } since)
            return Parse(option, since.Groups[1].Value) is var begin && begin <= now ? new Period(begin, now) : throw new CommandException($"{option} '{written}' lies in the future; name a time that is past.");
        if (Before().Match(written) is { Success: true } before)
            return new Period(DateTimeOffset.UnixEpoch, Parse(option, before.Groups[1].Value));
        throw new CommandException($"{option} '{written}' is no period; write for example {PeriodForms}.");
    }

    /// <summary>The period from one moment up to another, each as a person wrote it; see <see cref="Parse"/> and <see cref="ParseEnd"/>.</summary>
    /// <param name="option">The option or options they were given with, for the message.</param>
    /// <param name="from">Its begin.</param>
    /// <param name="to">Its end.</param>
    /// <exception cref="CommandException">One is no moment, or it ends before it begins.</exception>
    public Period Between(string option, string from, string to)
    {
        var (begin, end) = (Parse(option, from), ParseEnd(option, to));
        return begin < end ? new Period(begin, end) : throw new CommandException($"{option} '{from.Trim()}' to '{to.Trim()}' ends before it begins: {Of(begin)} to {Of(end)}.");
    }

    /// <summary>A span of time as people write it, for example <c>20 min</c>, <c>8 hours</c>, <c>2 days</c>, <c>3 weeks</c>; null where it is none.</summary>
    public static TimeSpan? Span(string written)
    {
        // Days are no unit of the configuration, but people count so here.
        var span = written.Trim();
        var days = DaysOrWeeks().Match(span);
        var seconds = days.Success ? double.Parse(days.Groups[1].Value, CultureInfo.InvariantCulture) * (days.Groups[2].ValueSpan[0] is 'd' or 'D' ? 86_400 : 7 * 86_400)
            : Quantity.Parse(Singular().Replace(span, "$1$2$3")) is { Unit.Length: > 0 } quantity && QuantityKind.Time.Unit(quantity.Unit) is { } unit ? quantity.Value * unit.Factor
            : double.NaN;
        return seconds is >= 0 and < 1e9 ? TimeSpan.FromSeconds(seconds) : null;
    }

    private (DateOnly First, DateOnly Next)? Days(string written) => DayWords.Read(written, DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(time.GetUtcNow(), time.LocalTimeZone).DateTime));

    private DateTimeOffset Begin(DateOnly date) => ShiftCalendar.MomentOf(time.LocalTimeZone, date.ToDateTime(TimeOnly.MinValue));

    private static CommandException NoTime(string option, string written) => new($"{option} '{written}' is no time; write for example {Forms}.");

    private DateTimeOffset Local(string option, string written, DateTime local)
    {
        var zone = time.LocalTimeZone;
        if (zone.IsInvalidTime(local))
            throw new CommandException($"{option} '{written}' does not exist here: the clocks were put forward over it; write the time with its zone, for example {local:yyyy-MM-dd'T'HH:mm}:00Z.");
        if (zone.IsAmbiguousTime(local))
            throw new CommandException($"{option} '{written}' was twice here: the clocks were put back; write the time with its zone, for example {local:yyyy-MM-dd'T'HH:mm}:00Z.");
        return new DateTimeOffset(local, zone.GetUtcOffset(local)).ToUniversalTime();
    }

    [GeneratedRegex(@"^(.+?)\s+ago$", RegexOptions.IgnoreCase)]
    private static partial Regex Ago();

    [GeneratedRegex(@"^([0-9]+(?:\.[0-9]+)?)\s*(d|days?|w|weeks?)$", RegexOptions.IgnoreCase)]
    private static partial Regex DaysOrWeeks();

    [GeneratedRegex(@"^(?:last|past)\s+([0-9].*)$", RegexOptions.IgnoreCase)]
    private static partial Regex Last();

    [GeneratedRegex(@"^(?:from\s+)?(.+?)(?:\s+to\s+|\s*\.\.\s*)(.+)$", RegexOptions.IgnoreCase)]
    private static partial Regex FromTo();

    [GeneratedRegex(@"^(?:since|from|after)\s+(.+)$", RegexOptions.IgnoreCase)]
    private static partial Regex Since();

    [GeneratedRegex(@"^(?:before|until)\s+(.+)$", RegexOptions.IgnoreCase)]
    private static partial Regex Before();

    [GeneratedRegex(@"(?<![a-z])(?:(h)(?:ours?|rs?)?|(min)(?:utes?|s)?|(s)(?:ec(?:onds?)?)?)$", RegexOptions.IgnoreCase)]
    private static partial Regex Singular();
}
