using System.Collections.Concurrent;
using SawEdge.Core.Oee;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Api;

/// <summary>Parts and OEE of the shift that runs, for each saw; worked out when somebody asks, and then kept for a while.</summary>
/// <param name="context">The gateway.</param>
internal sealed class ShiftFigures(ApiContext context)
{
    /// <summary>How long figures are kept.</summary>
    public static readonly TimeSpan Fresh = TimeSpan.FromSeconds(30);

    /// <summary>How far behind what is stored of a saw may be: so much of the newest time is no sign that it is not seen.</summary>
    private static readonly TimeSpan Lag = TimeSpan.FromMinutes(3);

    private readonly ConcurrentDictionary<string, (long At, CalendarOptions Calendar, Task<ShiftNow?> Figures)> _known = new(StringComparer.Ordinal);

    /// <summary>The figures of a saw; null where no shift runs, or the plant has no calendar.</summary>
    public Task<ShiftNow?> OfAsync(SawOptions saw, CancellationToken cancellation)
    {
        if (context.Options.Calendar is not { } calendar)
            return Task.FromResult<ShiftNow?>(null);
        if (_known.TryGetValue(saw.Name, out var known) && known.Calendar == calendar && context.Time.GetElapsedTime(known.At) < Fresh && !known.Figures.IsFaulted)
            return known.Figures.WaitAsync(cancellation);

        // Not given up with the one who asks: others wait for the same figures.
        var figures = WorkOutAsync(calendar, saw);
        _known[saw.Name] = (context.Time.GetTimestamp(), calendar, figures);
        return figures.WaitAsync(cancellation);
    }

    private async Task<ShiftNow?> WorkOutAsync(CalendarOptions calendar, SawOptions saw)
    {
        var now = context.Now;
        if (calendar.Calendar.ShiftAt(now) is not { } shift)
            return null;
        var last = await context.Reader.LastStateAsync(saw.Name);
        var to = last is not null && last.To > now - Lag ? last.To < now ? last.To : now : now - Lag;
        if (to <= shift.Time.From)
            return new ShiftNow(shift.Name, shift.Time.From, shift.Time.To, null, null);
        var period = new Period(shift.Time.From, to);
        var buckets = (await context.Reader.AccountAsync(saw.Name, calendar, period, saw.HasHandlingBetweenCycles)).Buckets(period);
        return new ShiftNow(shift.Name, shift.Time.From, shift.Time.To, buckets[OeeCount.Parts], Known.Number(buckets.Figures.Oee, 4));
    }
}
