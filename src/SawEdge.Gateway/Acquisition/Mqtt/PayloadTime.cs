using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Times in payloads: RFC 3339 with a zone, or a number counted from 1970-01-01T00:00:00Z. The number's unit shows in its size: a
/// present-day time has ten digits in seconds, thirteen in milliseconds, sixteen in microseconds, nineteen in nanoseconds.
/// </summary>
internal static class PayloadTime
{
    /// <summary>A time further in the past than this is a clock that was never set, not a late message.</summary>
    public static readonly TimeSpan Oldest = TimeSpan.FromDays(7);

    /// <summary>A time further in the future than this is a wrong clock, not a time zone mistaken for another.</summary>
    public static readonly TimeSpan Furthest = TimeSpan.FromDays(1);

    /// <summary>Reads a text.</summary>
    public static bool TryReadText(ReadOnlySpan<byte> text, out DateTimeOffset time) => Rfc3339.TryParse(text, out time) || TryReadNumber(text, out time);

    /// <summary>Reads a number.</summary>
    public static bool TryReadNumber(ReadOnlySpan<byte> text, out DateTimeOffset time)
    {
        time = default;
        if (!NumberText.TryParse(text, out var value) || !double.IsFinite(value))
            return false;
        var ticksEach = Math.Abs(value) switch
        {
            < 1e11 => TimeSpan.TicksPerSecond,
            < 1e14 => TimeSpan.TicksPerMillisecond,
            < 1e17 => TimeSpan.TicksPerMicrosecond,
            _ => 0.01,
        };
        var ticks = value * ticksEach;
        if (ticks < DateTime.MinValue.Ticks - DateTime.UnixEpoch.Ticks || ticks > DateTime.MaxValue.Ticks - DateTime.UnixEpoch.Ticks)
            return false;

        // A double holds seconds of today to a quarter of a microsecond; rounding to one gives back the decimals that were written.
        var rounded = Math.Round(ticks / TimeSpan.TicksPerMicrosecond) * TimeSpan.TicksPerMicrosecond;
        time = DateTimeOffset.UnixEpoch.AddTicks(Math.Min((long)rounded, DateTime.MaxValue.Ticks - DateTime.UnixEpoch.Ticks));
        return true;
    }

    /// <summary>Whether a message that arrives now can be of that time.</summary>
    public static bool IsPlausible(DateTimeOffset time, DateTimeOffset now) => time >= now - Oldest && time <= now + Furthest;
}
