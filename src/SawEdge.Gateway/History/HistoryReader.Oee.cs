using Microsoft.Data.Sqlite;
using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.History;

/// <summary>The account of a saw's time with what it was made of.</summary>
/// <param name="Account">The account; it covers the shifts that were asked for, and more where a cut reaches out of them.</param>
/// <param name="Input">What it was made of; of the cycles only what accounts and counters need is read.</param>
public sealed record SawAccount(OeeAccount Account, OeeInput Input);

/// <content>Where a saw's time went.</content>
public sealed partial class HistoryReader
{
    /// <summary>How far out of a period its account looks for cycles whose handling reaches into it, where handling lies between cycles.</summary>
    public static readonly TimeSpan HandlingReach = TimeSpan.FromHours(1);

    /// <summary>The account of a saw's time over all shifts that touch a period.</summary>
    /// <param name="saw">The saw.</param>
    /// <param name="calendar">The calendar.</param>
    /// <param name="period">The period; the account can be asked for it and for any part of it, and says the same of it as one over a longer period.</param>
    /// <param name="handlingBetweenCycles">See <see cref="OeeInput.HandlingBetweenCycles"/>.</param>
    /// <param name="cancellation">Ends the reading.</param>
    /// <exception cref="HistoryException">The history cannot be read.</exception>
    public async Task<OeeAccount> AccountAsync(string saw, CalendarOptions calendar, Period period, bool handlingBetweenCycles, CancellationToken cancellation = default) =>
        (await SawAccountAsync(saw, calendar, period, handlingBetweenCycles, cancellation)).Account;

    /// <summary>The same with what it was made of.</summary>
    /// <inheritdoc cref="AccountAsync"/>
    public Task<SawAccount> SawAccountAsync(string saw, CalendarOptions calendar, Period period, bool handlingBetweenCycles, CancellationToken cancellation = default) =>
        AskAsync(
            connection =>
            {
                // One transaction: cycles, states, reasons and scrap must be of the same moment.
                using var transaction = connection.BeginTransaction(deferred: true);
                var input = AccountInput(connection, saw, calendar, period, handlingBetweenCycles);
                return new SawAccount(new OeeAccount(input), input);
            },
            cancellation);

    private static OeeInput AccountInput(SqliteConnection connection, string saw, CalendarOptions calendar, Period period, bool handlingBetweenCycles)
    {
        var shifts = calendar.Calendar.Widen(period);
        var reach = handlingBetweenCycles ? HandlingReach : TimeSpan.Zero;
        var cuts = AccountCuts(connection, saw, new Period(shifts.From - reach, shifts.To + reach));

        // A cut that runs on into the next shift may be among the scrap that is counted there, which is then also true of its share in this one.
        if (cuts.LastOrDefault(cut => cut.StartedAt < shifts.To) is { } last && last.EndedAt > shifts.To)
        {
            shifts = calendar.Calendar.Widen(new Period(shifts.From, last.EndedAt));
            cuts = AccountCuts(connection, saw, new Period(shifts.From - reach, shifts.To + reach));
        }

        // A cut that reaches over the end of a shift earns its share in it: all of its time is looked at.
        var from = cuts.Count > 0 && cuts[0].StartedAt < shifts.From - reach ? cuts[0].StartedAt : shifts.From - reach;
        var to = cuts.Count > 0 && cuts[^1].EndedAt > shifts.To + reach ? cuts[^1].EndedAt : shifts.To + reach;
        return new OeeInput
        {
            Saw = saw,
            Calendar = calendar.Calendar,
            Period = shifts,
            States = States(connection, saw, new Period(from, to)),
            Cuts = cuts,
            StopReasons = StopReasonsIn(connection, saw, shifts),
            Scrap = ScrapIn(connection, saw, shifts, cuts),
            HandlingBetweenCycles = handlingBetweenCycles,

            // What executes after the last cycle of all is the next one.
            OpenCycleFrom = Rows(connection, "SELECT ended_at FROM cycles WHERE saw = @saw ORDER BY started_at DESC LIMIT 1", row => (DateTimeOffset?)Time(row.GetInt64(0)), ("@saw", saw)).FirstOrDefault(),
            Settings = calendar.Settings,
        };
    }

    // Of a year there are many: only what the account and the counter ask for is read.
    private static List<CycleRecord> AccountCuts(SqliteConnection connection, string saw, Period period) =>
        Rows(
            connection,
            $"SELECT c.cycle_id, c.started_at, c.cut_started_at, c.cut_ended_at, c.ended_at, c.outcome, c.job, c.standard_cut_time_s, c.standard_cycle_time_s, c.part_count FROM cycles AS c WHERE {CyclesTouching} ORDER BY c.started_at, c.id",
            row => new CycleRecord
            {
                CycleId = row.GetString(0),
                Saw = saw,
                StartedAt = Time(row.GetInt64(1)),
                CutStartedAt = row.IsDBNull(2) ? null : Time(row.GetInt64(2)),
                CutEndedAt = row.IsDBNull(3) ? null : Time(row.GetInt64(3)),
                EndedAt = Time(row.GetInt64(4)),
                Outcome = CutOutcomes.Parse(row.GetString(5)),
                Job = row.IsDBNull(6) ? "" : row.GetString(6),
                StandardCutTimeS = row.IsDBNull(7) ? null : row.GetDouble(7),
                StandardCycleTimeS = row.IsDBNull(8) ? null : row.GetDouble(8),
                PartCount = row.IsDBNull(9) ? null : row.GetInt64(9),
                Frames = 0,
            },
            ("@saw", saw),
            ("@from", period.From.ToUnixTimeMilliseconds()),
            ("@to", StateRows.Milliseconds(period.To)));

    private static List<StopReason> StopReasonsIn(SqliteConnection connection, string saw, Period period) =>
        Rows(
            connection,
            $"SELECT {EntryRows.SelectReason} FROM stop_reasons WHERE saw = @saw AND from_at < @to AND to_at > @from AND withdrawn IS NULL ORDER BY id",
            row => EntryRows.ReadReason(row).Entry,
            ("@saw", saw),
            ("@from", period.From.ToUnixTimeMilliseconds()),
            ("@to", StateRows.Milliseconds(period.To)));

    // Scrap of a cut is entered whenever somebody finds it: it is looked for by the cut.
    private static List<ScrapEntry> ScrapIn(SqliteConnection connection, string saw, Period shifts, List<CycleRecord> cuts)
    {
        var (from, to) = (shifts.From, shifts.To);
        if (cuts.Count > 0)
            (from, to) = (cuts[0].StartedAt < from ? cuts[0].StartedAt : from, cuts[^1].EndedAt > to ? cuts[^1].EndedAt : to);
        return Rows(
            connection,
            $"""
            SELECT {EntryRows.SelectScrap} FROM scrap WHERE saw = @saw AND withdrawn IS NULL AND cycle_id IS NULL AND at >= @from AND at < @to
            UNION ALL
            SELECT {EntryRows.SelectScrap} FROM scrap WHERE saw = @saw AND withdrawn IS NULL AND cycle_id IN (SELECT cycle_id FROM cycles WHERE saw = @saw AND started_at >= @first AND started_at < @last)
            ORDER BY 3, 1
            """,
            row => EntryRows.ReadScrap(row).Entry,
            ("@saw", saw),
            ("@from", shifts.From.ToUnixTimeMilliseconds()),
            ("@to", StateRows.Milliseconds(shifts.To)),
            ("@first", from.ToUnixTimeMilliseconds()),
            ("@last", StateRows.Milliseconds(to)));
    }
}
