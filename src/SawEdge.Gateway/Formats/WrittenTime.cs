using System.Globalization;
using System.Text;

namespace SawEdge.Gateway.Formats;

/// <summary>
/// Reads times as a controller or a log writes them: by a pattern, or as RFC 3339, where a zone may be left out if it is known otherwise.
/// In the night of a clock change a local time that comes twice has two moments, and who reads decides by what came before; one
/// that is skipped is read as if the clock had not been changed, so that a controller that changes a little late goes on without a jump.
/// </summary>
/// <param name="zone">The zone of times that are written without one; null: they are refused.</param>
/// <param name="pattern">How times are written (custom date and time format of .NET), or null: RFC 3339.</param>
public sealed class WrittenTime(TimeZoneInfo? zone, string? pattern)
{
    private const int LongestText = 64;

    private readonly bool _holdsZone = pattern is not null && Example(pattern, 1) != Example(pattern, 2);

    /// <summary>Reads a time.</summary>
    /// <param name="text">UTF-8, nothing around it.</param>
    /// <param name="time">The moment; of two the earlier one.</param>
    /// <param name="later">The later one where there are two, otherwise null.</param>
    public bool TryParse(ReadOnlySpan<byte> text, out DateTimeOffset time, out DateTimeOffset? later)
    {
        later = null;
        if (pattern is null && Rfc3339.TryParse(text, out time))
            return true;
        time = default;
        if (text.Length > LongestText)
            return false;
        if (pattern is null)
            return zone is not null && TryWithoutZone(text, out var written) && TryPlace(written, out time, out later);

        Span<char> characters = stackalloc char[LongestText];
        if (!Encoding.UTF8.TryGetChars(text, characters, out var length))
            return false;
        if (_holdsZone)
        {
            var isRead = DateTimeOffset.TryParseExact(characters[..length], pattern, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out var stated);
            time = stated.ToUniversalTime();
            return isRead;
        }

        return zone is not null
            && DateTime.TryParseExact(characters[..length], pattern, CultureInfo.InvariantCulture, DateTimeStyles.None, out var local)
            && TryPlace(local, out time, out later);
    }

    // The date and time of RFC 3339 without the zone behind it.
    private static bool TryWithoutZone(ReadOnlySpan<byte> text, out DateTime written)
    {
        Span<byte> withZone = stackalloc byte[LongestText + 1];
        text.CopyTo(withZone);
        withZone[text.Length] = (byte)'Z';
        var isRead = Rfc3339.TryParse(withZone[..(text.Length + 1)], out var time);
        written = time.DateTime;
        return isRead;
    }

    private bool TryPlace(DateTime local, out DateTimeOffset time, out DateTimeOffset? later)
    {
        later = null;
        time = default;
        local = DateTime.SpecifyKind(local, DateTimeKind.Unspecified);
        if (local.Year is < 2 or > 9998)
            return false;
        if (zone!.IsAmbiguousTime(local))
        {
            // The greater offset is that before the change: the earlier moment.
            var offsets = zone.GetAmbiguousTimeOffsets(local);
            time = Utc(local, offsets.Max());
            later = Utc(local, offsets.Min());
            return true;
        }

        time = Utc(local, zone.GetUtcOffset(zone.IsInvalidTime(local) ? local.AddHours(-3) : local));
        return true;
    }

    private static DateTimeOffset Utc(DateTime local, TimeSpan offset) => new(local.Ticks - offset.Ticks, TimeSpan.Zero);

    // The same time of day in different zones is written differently where the zone is written.
    private static string Example(string pattern, int hours) =>
        new DateTimeOffset(2026, 11, 25, 17, 46, 58, TimeSpan.FromHours(hours)).ToString(pattern, CultureInfo.InvariantCulture);
}
