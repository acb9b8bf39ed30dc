using System.Globalization;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Binding;

/// <summary>Declares how times in payloads are written.</summary>
internal static class PayloadTimeBinding
{
    /// <summary>How a time is written, to the second at least.</summary>
    public static readonly TextType Pattern = new("pattern", "dd.MM.yyyy HH:mm:ss.fff", Problem) { MaximumLength = 64 };

    /// <summary>Reads the settings.</summary>
    /// <param name="o">The saw.</param>
    /// <param name="time">The member that holds the time.</param>
    /// <returns>Zone and pattern, each null where it was not stated.</returns>
    public static (TimeZoneInfo? Zone, string? Pattern) Bind(ConfigObject o, Setting<string?> time)
    {
        var zone = o.Optional("timeZone", new TimeZoneType(), "Time zone (IANA) of times in the payload that are written without one. Left out: such times are refused.");
        var format = o.Optional("timeFormat", Pattern, "How times in the payload are written, where it is not as in RFC 3339: yyyy, MM, dd, HH, mm, ss, fff, and K or zzz for a zone.");
        if (zone.IsStated && !time.IsStated)
            o.Error(zone, "belongs to timeMember, which is missing");
        if (format.IsStated && !time.IsStated)
            o.Error(format, "belongs to timeMember, which is missing");
        else if (format is { IsGood: true, Value: { } pattern } && !zone.IsStated && !HoldsZone(pattern))
            o.Error(format, "holds no zone, so nobody can know which moment is meant; write \"timeZone\" as well");
        return (zone.Value, format.Value);
    }

    // What is written by it must be readable again to the second.
    private static string? Problem(string pattern)
    {
        try
        {
            // An hour that tells 17 from 05, a day that is no month, and a year that is not the present one, which would be put in place of none.
            var sample = new DateTimeOffset(2019, 11, 25, 17, 46, 58, TimeSpan.Zero);
            var written = sample.ToString(pattern, CultureInfo.InvariantCulture);
            if (DateTimeOffset.TryParseExact(written, pattern, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out var read) && read == sample)
                return null;
        }
        catch (FormatException)
        {
            // Told by the result, as a pattern that loses something.
        }

        return $"{Words.Quoted(pattern)} is no pattern of a whole time; write year, month, day, hour, minute and second as yyyy, MM, dd, HH, mm, ss, and milliseconds as fff, for example \"dd.MM.yyyy HH:mm:ss.fff\"";
    }

    private static bool HoldsZone(string pattern)
    {
        string Written(int hours) => new DateTimeOffset(2026, 11, 25, 17, 46, 58, TimeSpan.FromHours(hours)).ToString(pattern, CultureInfo.InvariantCulture);
        return Written(1) != Written(2);
    }
}
