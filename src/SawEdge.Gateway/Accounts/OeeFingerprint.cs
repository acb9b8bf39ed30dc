using System.Buffers.Binary;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Accounts;

/// <summary>A number for all that accounts of a saw depend on besides the history: with another calendar or other rules, sums that were kept do not hold.</summary>
internal static class OeeFingerprint
{
    // Raised with each change of the account that gives other buckets.
    private const int Algorithm = 1;

    /// <summary>The number.</summary>
    /// <param name="calendar">Calendar and rules.</param>
    /// <param name="handlingBetweenCycles">Whether the saw's handling lies between its cycles.</param>
    public static long Of(CalendarOptions calendar, bool handlingBetweenCycles)
    {
        var plan = calendar.Calendar.Plan;
        var text = new StringBuilder();

        // Lengths before texts, so that no name can look like another's end.
        void Add(object value)
        {
            var words = string.Create(CultureInfo.InvariantCulture, $"{value}");
            text.Append(words.Length).Append(':').Append(words).Append(';');
        }

        void AddBreaks(IReadOnlyList<ShiftBreak> breaks)
        {
            Add(breaks.Count);
            foreach (var pause in breaks)
            {
                Add(pause.From.Ticks);
                Add(pause.To.Ticks);
            }
        }

        Add(Algorithm);
        Add(handlingBetweenCycles);
        Add(plan.Zone.ToSerializedString());
        foreach (var shift in plan.Shifts)
        {
            Add(shift.Name);
            Add(string.Join(',', shift.Days.Order()));
            Add(shift.From.Ticks);
            Add(shift.To.Ticks);
            AddBreaks(shift.Breaks);
        }

        Add("extra");
        foreach (var shift in plan.ExtraShifts)
        {
            Add(shift.Name);
            Add(shift.Date.DayNumber);
            Add(shift.From.Ticks);
            Add(shift.To.Ticks);
            AddBreaks(shift.Breaks);
        }

        Add("holidays");
        foreach (var holiday in plan.Holidays)
        {
            Add(holiday.First.DayNumber);
            Add(holiday.Last.DayNumber);
        }

        Add("stops");
        foreach (var stop in plan.PlannedStops)
        {
            Add(stop.Time.From.UtcTicks);
            Add(stop.Time.To.UtcTicks);
            Add(stop.Saws is null ? "all" : string.Join('\n', stop.Saws.Order(StringComparer.Ordinal)));
        }

        Add("rules");
        Add(calendar.Settings.ShortStop.Ticks);
        foreach (var (reason, meaning) in calendar.Settings.Meanings.OrderBy(pair => pair.Key, StringComparer.Ordinal))
        {
            Add(reason);
            Add(meaning.Reason);
            Add(meaning.Class);
        }

        return BinaryPrimitives.ReadInt64BigEndian(SHA256.HashData(Encoding.UTF8.GetBytes(text.ToString())));
    }
}
