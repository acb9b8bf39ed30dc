using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Times in payloads: texts as <see cref="WrittenTime"/> reads them, or a number counted from 1970-01-01T00:00:00Z. The number's unit shows in its size: a
/// present-day time has ten digits in seconds, thirteen in milliseconds, sixteen in microseconds, nineteen in nanoseconds.
/// </summary>
internal static class PayloadTime
{
    /// <summary>A time further in the past than this is a clock that was never set, not a late message.</summary>
    public static readonly TimeSpan Oldest = TimeSpan.FromDays(7);

    /// <summary>A time further in the future than this is a wrong clock, not a time zone mistaken for another.</summary>
    public static readonly TimeSpan Furthest = TimeSpan.FromDays(1);

    /// <summary>Reads a text: as it is configured, or as a number.</summary>
    public static bool TryReadText(WrittenTime written, ReadOnlySpan<byte> text, out DateTimeOffset time, out DateTimeOffset? later) =>
        written.TryParse(text, out time, out later) || TryReadNumber(text, out time);

    /// <summary>
    /// Which of two moments a local time means that comes twice in the night of a clock change: the one near the message's arrival; of a
    /// message that is late, the first that is later than the saw's last frame.
    /// </summary>
    public static DateTimeOffset Choose(DateTimeOffset earlier, DateTimeOffset later, DateTimeOffset last, DateTimeOffset now)
    {
        var half = (later - earlier) / 2;
        if ((now - later).Duration() < half)
            return later;
        return (now - earlier).Duration() < half || earlier > last ? earlier : later;
    }

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
