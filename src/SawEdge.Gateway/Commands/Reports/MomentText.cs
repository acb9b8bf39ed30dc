using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using SawEdge.Core.Notation;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Commands.Reports;

/// <summary>Moments as people at a terminal write and read them: in the time of this machine's place.</summary>
/// <param name="time">Clock and time zone.</param>
internal sealed partial class MomentText(TimeProvider time)
{
    /// <summary>What can be written, for messages and help.</summary>
    public const string Forms = "\"2026-03-02 14:30\" (local), 2026-03-02T13:30:00Z, or \"20 min ago\"";

    private static readonly string[] LocalForms = ["yyyy-MM-dd HH:mm", "yyyy-MM-dd HH:mm:ss", "yyyy-MM-dd'T'HH:mm", "yyyy-MM-dd'T'HH:mm:ss"];

    /// <summary>A moment, local, to the minute, in the form that <see cref="Parse"/> reads.</summary>
    public string Of(DateTimeOffset moment) => TimeZoneInfo.ConvertTime(moment, time.LocalTimeZone).ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture);

    /// <summary>Reads a moment: RFC 3339, local without a zone, or how long ago.</summary>
    /// <param name="option">The option it was given with, for the message.</param>
    /// <param name="text">What a person wrote.</param>
    /// <exception cref="CommandException">It is none; the message says what would be right.</exception>
    public DateTimeOffset Parse(string option, string text)
    {
        var written = text.Trim();
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

    /// <summary>A span of time as people write it, for example <c>20 min</c>, <c>8 hours</c>, <c>2 days</c>; null where it is none.</summary>
    public static TimeSpan? Span(string written)
    {
        // Days are no unit of the configuration, but people count so here.
        var span = written.Trim();
        var days = Days().Match(span);
        var seconds = days.Success ? double.Parse(days.Groups[1].Value, CultureInfo.InvariantCulture) * 86_400
            : Quantity.Parse(Singular().Replace(span, "$1$2$3")) is { Unit.Length: > 0 } quantity && QuantityKind.Time.Unit(quantity.Unit) is { } unit ? quantity.Value * unit.Factor
            : double.NaN;
        return seconds is >= 0 and < 1e9 ? TimeSpan.FromSeconds(seconds) : null;
    }

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

    [GeneratedRegex(@"^([0-9]+(?:\.[0-9]+)?)\s*(?:d|days?)$", RegexOptions.IgnoreCase)]
    private static partial Regex Days();

    [GeneratedRegex(@"(?<![a-z])(?:(h)(?:ours?|rs?)?|(min)(?:utes?|s)?|(s)(?:ec(?:onds?)?)?)$", RegexOptions.IgnoreCase)]
    private static partial Regex Singular();
}
