using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.History;

/// <content>Where a saw's time went.</content>
public sealed partial class HistoryReader
{
    /// <summary>The account of a saw's time over all shifts that touch a period.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="calendar">The calendar.</param>
    /// <param name="period">The period; the account can be asked for it and for any part of it.</param>
    /// <param name="handlingBetweenCycles">See <see cref="OeeInput.HandlingBetweenCycles"/>.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<OeeAccount> AccountAsync(string saw, CalendarOptions calendar, Period period, bool handlingBetweenCycles, CancellationToken cancellation = default)
    {
        var shifts = calendar.Calendar.Widen(period);
        var cuts = await CyclesInAsync(saw, shifts, cancellation);

        // A cut that reaches over the end of a shift earns its share in it: all of its time is looked at.
        var from = cuts.Count > 0 && cuts[0].StartedAt < shifts.From ? cuts[0].StartedAt : shifts.From;
        var to = cuts.Count > 0 && cuts[^1].EndedAt > shifts.To ? cuts[^1].EndedAt : shifts.To;
        return new OeeAccount(new OeeInput
        {
            Saw = saw,
            Calendar = calendar.Calendar,
            Period = shifts,
            States = await StatesAsync(saw, new Period(from, to), cancellation),
            Cuts = cuts,
            HandlingBetweenCycles = handlingBetweenCycles,

            // What executes after the last cycle of all is the next one.
            OpenCycleFrom = (await LastCycleAsync(saw, cancellation: cancellation))?.EndedAt,
            Settings = calendar.Settings,
        });
    }
}
