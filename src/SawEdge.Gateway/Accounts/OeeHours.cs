using Microsoft.Extensions.Logging;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Accounts;

/// <summary>
/// Keeps the figures of each saw and hour up to date, for those who carry them away: each minute those of the hours that may have changed. What
/// changed stands in the history until it is dealt with, so a stop in between loses nothing.
/// </summary>
/// <param name="oee">The figures.</param>
/// <param name="options">The configuration.</param>
/// <param name="reader">The history.</param>
/// <param name="writer">Where the figures are kept.</param>
/// <param name="machine">The machine clock.</param>
/// <param name="logger">Where it speaks.</param>
public sealed class OeeHours(OeeService oee, GatewayOptions options, HistoryReader reader, HistoryWriter writer, TimeProvider machine, ILogger<OeeHours> logger)
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromMinutes(1);

    // Worked out and stored at once.
    private static readonly TimeSpan LongestStep = TimeSpan.FromDays(31);

    private bool _inTrouble;

    /// <summary>Works until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    /// <exception cref="HistoryCorruptException">The history is damaged.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, machine);
        do
        {
            try
            {
                await LookAsync(cancellation);
                if (_inTrouble)
                    AccountsLog.ReadAgain(logger);
                _inTrouble = false;
            }
            catch (HistoryException e) when (e is not HistoryCorruptException)
            {
                if (!_inTrouble)
                    AccountsLog.Unread(logger, e.Message);
                _inTrouble = true;
            }
        }
        while (await look.WaitForNextTickAsync(cancellation));
    }

    /// <summary>Works out once what has changed.</summary>
    /// <exception cref="HistoryException">The history cannot be read or written.</exception>
    public async Task LookAsync(CancellationToken cancellation)
    {
        if (!oee.HasCalendar)
            return;
        foreach (var saw in options.Saws)
        {
            if (await reader.OtherAccountHoursAsync(saw.Name, oee.HourSettingsOf(saw), cancellation) is { } other)
                await writer.ReopenAccountAsync(saw.Name, other, cancellation);
        }

        await writer.TakeAccountChangesAsync(cancellation);
        foreach (var change in await reader.AccountChangesAsync(cancellation))
        {
            // A saw that is not configured any more keeps the figures that it had.
            if (options.Saws.FirstOrDefault(saw => saw.Name == change.Saw) is { } saw)
                await WorkOutAsync(saw, change.Time, cancellation);
            await writer.CloseAccountChangeAsync(change.Saw, cancellation);
        }

        foreach (var saw in options.Saws)
            await FollowDarkAsync(saw, cancellation);
    }

    // Of a saw that is not seen nothing changes in the history; that it is not seen must be told all the same.
    private async Task FollowDarkAsync(SawOptions saw, CancellationToken cancellation)
    {
        if (await reader.LastStateAsync(saw.Name, cancellation) is not { } last || await oee.KnownUntilAsync(saw.Name, cancellation) is var known && known <= last.To)
            return;
        var told = await reader.AccountHoursEndAsync(saw.Name, cancellation);
        var dark = new Period(told > last.To ? told.Value : last.To, known);
        if (!dark.IsEmpty)
            await WorkOutAsync(saw, dark, cancellation);
    }

    private async Task WorkOutAsync(SawOptions saw, Period change, CancellationToken cancellation)
    {
        var known = await oee.KnownUntilAsync(saw.Name, cancellation);
        var touched = await TouchedAsync(saw, change, cancellation);
        var end = touched.To < known ? touched.To : known;
        var hours = OeeRollup.Spans(oee.Calendar.Calendar, new Period(touched.From, end > touched.From ? end : touched.From), OeeGrain.Hour);
        for (var first = 0; first < hours.Count;)
        {
            var last = first;
            while (last + 1 < hours.Count && hours[last + 1].Time.To - hours[first].Time.From <= LongestStep)
                last++;
            var time = new Period(hours[first].Time.From, hours[last].Time.To);
            var made = await oee.AccountAsync(saw, new Period(time.From - OeeService.Moment, time.To), cancellation);
            await writer.SaveAccountHoursAsync(oee.HourSettingsOf(saw), FiguresOf(saw.Name, made, time, [.. hours.Skip(first).Take(last + 1 - first).Select(hour => hour.Time)]), cancellation);
            first = last + 1;
        }
    }

    private static List<AccountHour> FiguresOf(string saw, SawAccount made, Period time, IReadOnlyList<Period> hours)
    {
        var figures = new List<AccountHour>(hours.Count);
        var (before, begins) = OeeService.BeginsIn(made, time);
        var at = 0;
        foreach (var hour in hours)
        {
            var first = at;
            while (at < begins.Count && begins[at].At < hour.To)
                at++;
            figures.Add(new AccountHour(saw, hour, SawPieces.PartOf(made, hour), 0) { Before = before, Begins = [.. begins.Skip(first).Take(at - first)] });
            before = at > 0 ? begins[at - 1] : before;
        }

        return figures;
    }

    // What changes within a cut or a stop weighs on all of its time, and scrap on earlier parts of its shift: whole shifts are worked out, in whole hours.
    private async Task<Period> TouchedAsync(SawOptions saw, Period change, CancellationToken cancellation)
    {
        var reach = saw.HasHandlingBetweenCycles ? HistoryReader.HandlingReach : TimeSpan.Zero;
        var wide = oee.Calendar.Calendar.Widen(new Period(change.From - reach, change.To + reach));
        var ends = await reader.CycleEndsAsync(saw.Name, wide, cancellation);
        var all = oee.Calendar.Calendar.Widen(ends is { } cuts ? new Period(cuts.From < wide.From ? cuts.From : wide.From, cuts.To > wide.To ? cuts.To : wide.To) : wide);
        return new Period(HourOf(all.From), HourOf(all.To.AddHours(1).AddTicks(-1)));
    }

    private DateTimeOffset HourOf(DateTimeOffset at) => at.AddTicks(-(TimeZoneInfo.ConvertTime(at, oee.Calendar.Calendar.Zone).Ticks % TimeSpan.TicksPerHour));
}
