using SawEdge.Core.Oee;

namespace SawEdge.Gateway.Accounts;

/// <summary>
/// The blocks whose sums are kept: the time from the first shift that begins on a date to the first of the next such date, and its shifts. A
/// block cuts no shift, so a stop or a cut weighs the same in it as in any longer time.
/// </summary>
/// <param name="Day">The block.</param>
/// <param name="Shifts">Its shifts, each up to the next; they meet and cover it.</param>
internal sealed record OeeBlock(OeeSpan Day, IReadOnlyList<OeeSpan> Shifts)
{
    // Between two shifts there may be works holidays; beyond, a block begins anew with the next shift anyway.
    private static readonly TimeSpan Around = TimeSpan.FromDays(8);

    /// <summary>Its time.</summary>
    public Period Time => Day.Time;

    /// <summary>The blocks that have a moment in a period, in order; the time before the first of them has no shift near by.</summary>
    public static List<OeeBlock> In(ShiftCalendar calendar, Period period)
    {
        // The first span may begin within a shift, and the last ends with the question instead of the next shift: neither is a block.
        var wide = calendar.Widen(new Period(period.From - Around, period.To + Around));
        var days = OeeRollup.Spans(calendar, wide, OeeGrain.Day);
        var shifts = OeeRollup.Spans(calendar, wide, OeeGrain.Shift);
        var blocks = new List<OeeBlock>();
        var at = 0;
        for (var i = 0; i < days.Count; i++)
        {
            var begin = at;
            while (at < shifts.Count && shifts[at].Time.From < days[i].Time.To)
                at++;
            if (i > 0 && i < days.Count - 1 && days[i].Time.Overlaps(period))
                blocks.Add(new OeeBlock(days[i], [.. shifts.Skip(begin).Take(at - begin)]));
        }

        return blocks;
    }
}
