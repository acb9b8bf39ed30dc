using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using SawEdge.Core.Alarms;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>How a plant reads messages: names, units, times, links. Pure.</summary>
/// <param name="site">Name of the plant.</param>
/// <param name="gateway">Name of the gateway.</param>
/// <param name="units">Units in which people read.</param>
/// <param name="zone">Time zone in which people read.</param>
internal sealed class MessageStyle(string site, string gateway, DisplayUnits units, TimeZoneInfo zone)
{
    private const int LongestText = 500;

    /// <summary>Name of the plant.</summary>
    public string Site => site;

    /// <summary>Name of the gateway.</summary>
    public string Gateway => gateway;

    /// <summary>Units in which people read.</summary>
    public DisplayUnits Units => units;

    /// <summary>The style of a configuration.</summary>
    public static MessageStyle Of(GatewayOptions options) => new(options.Site, options.Gateway, options.Units, options.TimeZone);

    /// <summary>A text on one line, bounded, without control characters and characters that turn its direction.</summary>
    // A line break is a space here: dropped, it would glue two words together.
    public static string Line(string text) => ControllerText.CleanUpTo(text.ReplaceLineEndings(" "), LongestText);

    /// <summary>The beginning of a text.</summary>
    public static string Short(string text, int longest)
    {
        if (text.Length <= longest)
            return text;
        // Not within a pair of surrogates.
        var end = char.IsHighSurrogate(text[longest - 4]) ? longest - 4 : longest - 3;
        return text[..end].TrimEnd() + "...";
    }

    /// <summary>The first letter large.</summary>
    public static string Capital(string word) => word.Length == 0 ? word : char.ToUpperInvariant(word[0]) + word[1..];

    /// <summary>A number with its unit; empty where it is not known.</summary>
    public string Quantity(double value, string unit) => double.IsFinite(value) ? DisplayText.Text(units, value, unit) : "";

    /// <summary>A moment by the plant's clock, with its distance from UTC.</summary>
    public string Moment(DateTimeOffset at) => TimeZoneInfo.ConvertTime(at, zone).ToString("yyyy-MM-dd HH:mm:ss zzz", CultureInfo.InvariantCulture);

    /// <summary>
    /// The identity of a message: the same for the same notice at each try and after each restart, another after the history was begun
    /// anew, and without a dot, which the signature of webhooks uses as a separator.
    /// </summary>
    public string Identity(string channel, string kind, long number, DateTimeOffset at)
    {
        var told = string.Create(CultureInfo.InvariantCulture, $"{site}\n{gateway}\n{channel}\n{kind}\n{number}\n{at.ToUnixTimeMilliseconds()}");
        return "msg_" + Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(told)).AsSpan(..12));
    }

    /// <summary>The words for a state.</summary>
    public string State(Alarm alarm)
    {
        var by = alarm.AcknowledgedBy.Length == 0 ? "" : $" by {Line(alarm.AcknowledgedBy)}";
        var words = alarm.State switch
        {
            AlarmState.Normal => "over",
            AlarmState.Unacknowledged => "active, not acknowledged",
            AlarmState.Acknowledged => $"active, acknowledged{by}",
            AlarmState.ReturnedUnacknowledged => "gone by itself, not acknowledged",
            AlarmState.LatchedUnacknowledged => "gone, not acknowledged; stays until it is acknowledged and reset",
            AlarmState.LatchedAcknowledged => $"gone, acknowledged{by}; stays until it is reset",
            AlarmState.Shelved => alarm.ShelvedUntil is { } until ? $"put aside until {Moment(until)}" : "put aside",
            AlarmState.SuppressedByDesign => "suppressed: outside of its hours, or another alarm is the cause",
            AlarmState.OutOfService => "out of service",
            _ => alarm.State.ToName(),
        };
        return alarm.IsChattering ? words + "; comes and goes" : words;
    }
}
