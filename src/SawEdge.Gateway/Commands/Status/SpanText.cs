using System.Globalization;

namespace SawEdge.Gateway.Commands.Status;

/// <summary>Spans of time as people say them: two units at most.</summary>
internal static class SpanText
{
    /// <summary>As "20 s", "3 min", "4 h 12 min", "3 d 4 h".</summary>
    public static string Of(TimeSpan span)
    {
        if (span < TimeSpan.FromMinutes(2))
            return string.Create(CultureInfo.InvariantCulture, $"{Math.Max(0, span.TotalSeconds):0} s");
        if (span < TimeSpan.FromHours(2))
            return string.Create(CultureInfo.InvariantCulture, $"{Math.Floor(span.TotalMinutes):0} min");
        return span < TimeSpan.FromDays(2)
            ? string.Create(CultureInfo.InvariantCulture, $"{Math.Floor(span.TotalHours):0} h {span.Minutes} min")
            : string.Create(CultureInfo.InvariantCulture, $"{span.Days:N0} d {span.Hours} h");
    }
}
