using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts;

/// <summary>A stop of a saw in planned time.</summary>
/// <param name="Saw">The saw.</param>
/// <param name="Stretch">When, why, and where its time belongs.</param>
/// <param name="Entry">What a person said about it, where that holds.</param>
public sealed record SawStop(string Saw, AccountStretch Stretch, StoredStopReason? Entry);

/// <summary>A stretch of time in which a saw did one thing.</summary>
/// <param name="Time">When.</param>
/// <param name="State">What.</param>
/// <param name="Reason">Of a stop its reason: a person's, else the controller's as the plant's rules read it.</param>
/// <param name="Bucket">Where its time belongs; null: it is no planned time.</param>
public sealed record TimelineStretch(Period Time, TimelineState State, string Reason, OeeBucket? Bucket);

/// <summary>A cut of a timeline.</summary>
/// <param name="Record">The record.</param>
/// <param name="Assessment">What the load score says of it; null: nothing.</param>
/// <param name="IsScrap">Whether its part is not good.</param>
public sealed record TimelineCut(SawEdge.Core.CycleRecord Record, SawEdge.Core.Load.LoadAssessment? Assessment, bool IsScrap);

/// <summary>What one saw did in a period.</summary>
/// <param name="Shifts">The shifts that touch it, whole; none without a calendar.</param>
/// <param name="States">What it did, without a gap, up to where it is known.</param>
/// <param name="Cuts">The cuts that began in it.</param>
public sealed record SawTimeline(IReadOnlyList<Shift> Shifts, IReadOnlyList<TimelineStretch> States, IReadOnlyList<TimelineCut> Cuts);

/// <content>What one saw did, moment by moment.</content>
public sealed partial class OeeService
{
    // The finest step of the times that leave the process.
    internal static readonly TimeSpan Moment = TimeSpan.FromMilliseconds(1);

    /// <summary>The stops of a saw in the planned time of a period, in order.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="least">Only those that last so long within it.</param>
    /// <param name="cancellation">Ends the work.</param>
    /// <exception cref="InvalidOperationException">There is no calendar.</exception>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<IReadOnlyList<SawStop>> StopsAsync(SawOptions saw, Period period, TimeSpan least, CancellationToken cancellation = default)
    {
        var seen = await SeenAsync(saw, period, cancellation);
        if (seen.IsEmpty)
            return [];
        var made = await AccountAsync(saw, seen, cancellation);
        var entries = await _reader.StopReasonsAsync(saw.Name, seen, cancellation);
        return
        [
            .. made.Account.Stretches(seen)
                .Where(stretch => stretch.Class is not null && stretch.Time.Duration >= least)
                .Select(stretch => new SawStop(saw.Name, stretch, EntryFor(entries, stretch))),
        ];
    }

    /// <summary>What a saw did in a period.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="period">The period.</param>
    /// <param name="cancellation">Ends the work.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<SawTimeline> TimelineAsync(SawOptions saw, Period period, CancellationToken cancellation = default)
    {
        var seen = await SeenAsync(saw, period, cancellation);
        var account = HasCalendar && !seen.IsEmpty ? (await AccountAsync(saw, seen, cancellation)).Account : null;
        var states = await _reader.StatesAsync(saw.Name, seen, cancellation);
        var scrap = account?.ScrapCycles ?? (await _reader.ScrapAsync(saw.Name, period, cancellation)).Select(stored => stored.Entry.CycleId ?? "").ToHashSet(StringComparer.Ordinal);
        var cuts = new List<TimelineCut>();
        await foreach (var cut in _reader.AssessedCutsAsync(saw.Name, period.From, period.To, cancellation))
            cuts.Add(new TimelineCut(cut.Record, cut.Assessment, scrap.Contains(cut.Record.CycleId)));
        return new SawTimeline(HasCalendar ? Calendar.Calendar.ShiftsIn(period) : [], Lay(StateTimeline.Of(seen, states), account?.Stretches(seen) ?? []), cuts);
    }

    /// <summary>The moments of a period at which a saw began to do something else, or its time to belong elsewhere, and what held when the period began.</summary>
    /// <param name="made">The account; it covers the period and a moment before it.</param>
    /// <param name="period">The period.</param>
    internal static (StateBegin Before, IReadOnlyList<StateBegin> Begins) BeginsIn(SawAccount made, Period period)
    {
        var wide = new Period(period.From - Moment, period.To);
        var laid = Lay(StateTimeline.Of(wide, made.Input.States), made.Account.Stretches(wide));

        // Times that leave the process are whole milliseconds: of what begins within one the last holds.
        var begins = laid.Skip(1).Select(stretch => BeginOf(stretch, stretch.Time.From)).GroupBy(begin => begin.At).Select(same => same.Last()).ToList();
        return (BeginOf(laid[0], period.From), begins);
    }

    private static StateBegin BeginOf(TimelineStretch stretch, DateTimeOffset at) => new(DateTimeOffset.FromUnixTimeMilliseconds(at.ToUnixTimeMilliseconds()), stretch.State, stretch.Reason, stretch.Bucket);

    private async Task<Period> SeenAsync(SawOptions saw, Period period, CancellationToken cancellation)
    {
        var known = await KnownUntilAsync(saw.Name, cancellation);
        return known < period.To ? period.Clip(new Period(DateTimeOffset.MinValue, known)) : period;
    }

    // Of entries for the same time the one that was entered last holds, as in the account.
    private static StoredStopReason? EntryFor(IReadOnlyList<StoredStopReason> entries, AccountStretch stretch) =>
        entries.Where(stored => stored.Entry.Time.From <= stretch.Time.From && stored.Entry.Time.To >= stretch.Time.To).MaxBy(stored => (stored.Entry.EnteredAt, stored.Id)) is { } last
        && last.Entry.Reason == stretch.Reason && last.Entry.Class == stretch.Class
            ? last
            : null;

    // States, parted where what they are booked as changes.
    private static List<TimelineStretch> Lay(StateTimeline line, IReadOnlyList<AccountStretch> stretches)
    {
        var laid = new List<TimelineStretch>();
        var at = 0;
        foreach (var segment in line.Segments)
        {
            var time = new Period(segment.From, segment.To);
            var from = time.From;
            while (at > 0 && stretches[at - 1].Time.To > from)
                at--;
            while (at < stretches.Count && stretches[at].Time.To <= from)
                at++;
            for (; at < stretches.Count && stretches[at].Time.From < time.To; at++)
            {
                var own = stretches[at].Time.Clip(time);
                Add(new Period(from, own.From), segment.Reason, null);
                Add(own, stretches[at].Class is null ? segment.Reason : stretches[at].Reason, stretches[at].Bucket);
                from = own.To;
            }

            Add(new Period(from, time.To), segment.Reason, null);

            void Add(Period part, string reason, OeeBucket? bucket)
            {
                if (part.IsEmpty)
                    return;
                if (laid.Count > 0 && laid[^1].Time.To == part.From && laid[^1] is var last && last.State == segment.State && last.Reason == reason && last.Bucket == bucket)
                    laid[^1] = last with { Time = new Period(last.Time.From, part.To) };
                else
                    laid.Add(new TimelineStretch(part, segment.State, reason, bucket));
            }
        }

        return laid;
    }
}
