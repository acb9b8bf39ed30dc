using System.Globalization;
using System.Text.Encodings.Web;
using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Accounts.Reports;

/// <summary>Numbers and words of a report.</summary>
/// <param name="zone">By whose clock times are written.</param>
internal sealed class ReportText(TimeZoneInfo zone)
{
    /// <summary>What stands where nothing is known.</summary>
    public const string Unknown = "–";

    /// <summary>The names of the buckets, in their order.</summary>
    public static readonly string[] Buckets = ["Cutting at standard", "Slow cutting", "Handling at standard", "Slow handling", "Short stops", "Stops by reason", "Setup", "Scrap time", "Not seen"];

    /// <summary>A text of anybody, so that it stays a text in HTML.</summary>
    public static string Html(string text) => HtmlEncoder.Default.Encode(text);

    /// <summary>A share in percent.</summary>
    public static string Percent(double share) => double.IsNaN(share) ? Unknown : Said($"{share * 100:0.0} %");

    /// <summary>A span of time.</summary>
    public static string Span(TimeSpan span) => Seconds((long)Math.Round(span.TotalSeconds));

    /// <summary>A span of whole seconds as hours, minutes and seconds.</summary>
    public static string Seconds(long seconds) => Said($"{seconds / 3600}:{seconds / 60 % 60:00}:{seconds % 60:00}");

    /// <summary>Times that sum to a whole, in whole seconds that still do: each is the distance of two rounded sums.</summary>
    public static long[] AddingUp(IEnumerable<TimeSpan> times)
    {
        var (sum, before) = (TimeSpan.Zero, 0L);
        var rounded = new List<long>();
        foreach (var time in times)
        {
            sum += time;
            var now = (long)Math.Round(sum.TotalSeconds);
            rounded.Add(now - before);
            before = now;
        }

        return [.. rounded];
    }

    /// <summary>A clock time of the plant.</summary>
    public string Clock(DateTimeOffset at) => Local(at).ToString("HH:mm", CultureInfo.InvariantCulture);

    /// <summary>Date and clock time of the plant.</summary>
    public string Moment(DateTimeOffset at) => Local(at).ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture);

    /// <summary>A time by the plant's clock.</summary>
    public DateTimeOffset Local(DateTimeOffset at) => TimeZoneInfo.ConvertTime(at, zone);

    /// <summary>Words in which numbers do not depend on the machine.</summary>
    public static string Said(FormattableString words) => words.ToString(CultureInfo.InvariantCulture);

    /// <summary>The class of a stop in words.</summary>
    public static string Class(StopClass stop) => stop switch
    {
        StopClass.Delay => "delay",
        StopClass.Down => "down",
        _ => "setup",
    };
}
