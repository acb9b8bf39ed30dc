using System.Buffers.Text;

namespace SawEdge.Gateway.Formats;

/// <summary>
/// Times as they stand in recordings and payloads: RFC 3339 section 5.6, read and written as UTF-8 bytes without an
/// allocation. Read as well: a space or a lower-case letter in place of the T (the RFC's own note allows both), an offset without its
/// colon, and more fraction digits than the clock's 100 ns (dropped). A time without a zone is refused, because nobody can know which
/// moment it means.
/// </summary>
public static class Rfc3339
{
    /// <summary>The longest text that <see cref="Format"/> writes, bytes.</summary>
    public const int MaximumLength = 28;

    private const int DateTimeLength = 19;

    /// <summary>Reads a time.</summary>
    /// <param name="text">The whole text, nothing around it.</param>
    /// <param name="time">The moment, UTC.</param>
    /// <returns>Whether it is a time with a zone.</returns>
    public static bool TryParse(ReadOnlySpan<byte> text, out DateTimeOffset time)
    {
        time = default;
        if (text.Length <= DateTimeLength
            || text[4] != '-' || text[7] != '-' || text[10] is not ((byte)'T' or (byte)'t' or (byte)' ')
            || text[13] != ':' || text[16] != ':')
            return false;

        var year = (Digits(text, 0, 2) * 100) + Digits(text, 2, 2);
        var month = Digits(text, 5, 2);
        var day = Digits(text, 8, 2);
        var hour = Digits(text, 11, 2);
        var minute = Digits(text, 14, 2);
        var second = Digits(text, 17, 2);
        if ((year | month | day | hour | minute | second) < 0
            || year < 1 || month is < 1 or > 12 || day < 1 || day > DateTime.DaysInMonth(year, month) || hour > 23 || minute > 59 || second > 60)
            return false;

        // A leap second (second 60) has no place on this clock: it is read as the first moment of the next minute.
        var ticks = new DateTime(year, month, day).Ticks
            + (((hour * 3600L) + (minute * 60L) + second) * TimeSpan.TicksPerSecond);
        return TryFraction(text[DateTimeLength..], ref ticks, out var zone)
            && TryZone(zone, ref ticks)
            && Within(ticks, out time);
    }

    /// <summary>Writes a moment as UTC with at least milliseconds, and up to 100 ns where it has them.</summary>
    /// <param name="time">The moment.</param>
    /// <param name="destination">At least <see cref="MaximumLength"/> bytes.</param>
    /// <returns>The number of bytes written.</returns>
    public static int Format(DateTimeOffset time, Span<byte> destination)
    {
        var utc = time.UtcDateTime;
        if (!Utf8Formatter.TryFormat(utc, destination, out var length, 'O'))
            throw new ArgumentException("Too short for a time.", nameof(destination));

        // "yyyy-MM-ddTHH:mm:ss.fffffffZ": cut zeros behind the milliseconds.
        var end = length - 1;
        while (end > DateTimeLength + 4 && destination[end - 1] == '0')
            end--;
        destination[end] = (byte)'Z';
        return end + 1;
    }

    private static bool TryFraction(ReadOnlySpan<byte> text, ref long ticks, out ReadOnlySpan<byte> zone)
    {
        zone = text;
        if (text[0] != '.')
            return true;

        var weight = TimeSpan.TicksPerSecond / 10;
        var i = 1;
        for (; i < text.Length && (uint)(text[i] - '0') <= 9; i++)
        {
            ticks += (text[i] - '0') * weight;
            weight /= 10;
        }

        zone = text[i..];
        return i > 1;
    }

    private static bool TryZone(ReadOnlySpan<byte> zone, ref long ticks)
    {
        if (zone.Length == 1)
            return zone[0] is (byte)'Z' or (byte)'z';
        if (zone.Length is not (5 or 6) || zone[0] is not ((byte)'+' or (byte)'-') || (zone.Length == 6 && zone[3] != ':'))
            return false;

        var hours = Digits(zone, 1, 2);
        var minutes = Digits(zone, zone.Length - 2, 2);
        if ((hours | minutes) < 0 || hours > 23 || minutes > 59)
            return false;
        var offset = ((hours * 60L) + minutes) * TimeSpan.TicksPerMinute;
        ticks += zone[0] == '+' ? -offset : offset;
        return true;
    }

    private static bool Within(long ticks, out DateTimeOffset time)
    {
        var inside = ticks >= DateTimeOffset.MinValue.Ticks && ticks <= DateTimeOffset.MaxValue.Ticks;
        time = inside ? new DateTimeOffset(ticks, TimeSpan.Zero) : default;
        return inside;
    }

    // Negative where a character is no digit.
    private static int Digits(ReadOnlySpan<byte> text, int at, int count)
    {
        var value = 0;
        for (var i = at; i < at + count; i++)
        {
            var digit = text[i] - '0';
            if ((uint)digit > 9)
                return -1;
            value = (value * 10) + digit;
        }

        return value;
    }
}
