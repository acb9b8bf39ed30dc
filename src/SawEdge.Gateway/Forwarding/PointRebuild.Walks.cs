using System.Globalization;
using SawEdge.Core;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Forwarding;

/// <content>What a period holds, kind by kind: only what the destination wants.</content>
public sealed partial class PointRebuild
{
    private const int MostHours = 200;
    private const int MostSamples = 1000;
    private const int MostReports = 100;

    // Cycles whose profiles are read at once.
    private const int MostProfiles = 200;

    private async Task<bool> CyclesAsync(Action<RebuildResult> progress, CancellationToken cancellation)
    {
        if ((_wanted & (PointChoice.Cycles | PointChoice.Profiles)) == 0)
            return true;
        var cycles = new List<CycleRecord>(MostProfiles);
        await foreach (var cycle in _reader.CyclesAsync(new CycleFilter { From = _from, To = _to }, cancellation))
        {
            cycles.Add(cycle);
            if (cycles.Count < MostProfiles)
                continue;
            if (!await AddAsync(await OfCyclesAsync(cycles, cancellation), progress, cancellation))
                return false;
            cycles.Clear();
        }

        return await AddAsync(await OfCyclesAsync(cycles, cancellation), progress, cancellation) && await FlushAsync(progress, cancellation);
    }

    private async Task<bool> AlarmsAsync(Action<RebuildResult> progress, CancellationToken cancellation)
    {
        if (!_wanted.HasFlag(PointChoice.Alarms))
            return true;
        await foreach (var stored in _reader.AlarmEventsAsync(_from, _to, null, cancellation))
        {
            if (!await AddAsync([OfEvent(stored)], progress, cancellation))
                return false;
        }

        return await FlushAsync(progress, cancellation);
    }

    private async Task<bool> HoursAsync(Action<RebuildResult> progress, CancellationToken cancellation)
    {
        if ((_wanted & PointChoice.Hours) == 0)
            return true;
        AccountHour? last = null;
        while (await _reader.AccountHoursInAsync(_from, _to, last, MostHours, cancellation) is { Count: > 0 } page)
        {
            if (!await AddAsync(page.SelectMany(OfHour), progress, cancellation) || !await FlushAsync(progress, cancellation))
                return false;
            _result.Hours += page.Count;
            last = page[^1];
        }

        return true;
    }

    private async Task<bool> SignalsAsync(Action<RebuildResult> progress, CancellationToken cancellation)
    {
        if (!_wanted.HasFlag(PointChoice.Signals))
            return true;
        await foreach (var sample in _reader.SamplesAsync(new SampleFilter { From = _from, To = _to }, cancellation))
        {
            if (!await AddAsync(OfSample(sample), progress, cancellation))
                return false;
        }

        return await FlushAsync(progress, cancellation);
    }

    private async Task<bool> HealthAsync(Action<RebuildResult> progress, CancellationToken cancellation)
    {
        if (!_wanted.HasFlag(PointChoice.Gateway))
            return true;
        var last = 0L;
        while (await _reader.HealthAfterAsync(last, MostReports, cancellation) is { Count: > 0 } page)
        {
            foreach (var report in page.Select(stored => stored.Report).Where(report => IsIn(report.At)))
            {
                if (!await AddAsync(_health.ToLines(report).Select(line => new Point(line, PointChoice.Gateway, string.Create(CultureInfo.InvariantCulture, $"the gateway's health at {report.At:u}"))), progress, cancellation))
                    return false;
            }

            last = page[^1].Sequence;
        }

        return await FlushAsync(progress, cancellation);
    }

    // Events of alarms and reports about the gateway's health never change.
    private async Task<bool> ChangedAsync(IReadOnlyList<JournalEntry> entries, IReadOnlyList<AccountHour> hours, IReadOnlyList<(long Sequence, SawSample Stored)> samples, CancellationToken cancellation)
    {
        var cycles = entries.Select(entry => entry.Cycle).OfType<CycleRecord>().Where(cycle => IsIn(cycle.StartedAt)).ToList();
        var points = (await OfCyclesAsync(cycles, cancellation))
            .Concat((_wanted & PointChoice.Hours) == 0 ? [] : hours.Where(hour => !(hour.Hour.To <= _from) && !(hour.Hour.From >= _to)).SelectMany(OfHour))
            .Concat(!_wanted.HasFlag(PointChoice.Signals) ? [] : samples.Where(sample => IsIn(sample.Stored.Sample.From)).SelectMany(sample => OfSample(sample.Stored)));
        return await AddAsync(points, _ => { }, cancellation) && await FlushAsync(_ => { }, cancellation);
    }

    private bool IsIn(DateTimeOffset moment) => !(moment < _from) && !(moment >= _to);

    private async Task<IEnumerable<Point>> OfCyclesAsync(List<CycleRecord> cycles, CancellationToken cancellation)
    {
        var points = new List<Point>();
        if (_wanted.HasFlag(PointChoice.Cycles))
            points.AddRange(cycles.Select(cycle => new Point(_cycles.ToLine(cycle), PointChoice.Cycles, $"cycle {cycle.CycleId}")));
        if (!_wanted.HasFlag(PointChoice.Profiles) || cycles.Count == 0)
            return points;
        var profiles = await _reader.ProfilesAsync([.. cycles.Select(cycle => cycle.CycleId)], cancellation);
        foreach (var cycle in cycles)
        {
            if (profiles.TryGetValue(cycle.CycleId, out var profile))
                points.AddRange(_profiles.ToLines(cycle, profile).Select(line => new Point(line, PointChoice.Profiles, $"the profile of cycle {cycle.CycleId}")));
        }

        return points;
    }

    private Point OfEvent(StoredAlarmEvent stored) => new(_alarms.ToLine(stored.Event), PointChoice.Alarms, FormattableString.Invariant($"event {stored.Id} of an alarm ({stored.Event.Subject}: {stored.Event.Rule})"));

    private IEnumerable<Point> OfHour(AccountHour hour) => _hours.All(hour).Select(line => new Point(line, PointChoice.Hours, $"a point of {hour.Saw} from {hour.Hour.From:u} on"));

    private IEnumerable<Point> OfSample(SawSample sample) => _signals.ToLines(sample).Select(line => new Point(line, PointChoice.Signals, $"a signal of {sample.Saw} from {sample.Sample.From:u} on"));

    private async Task<bool> AddAsync(IEnumerable<Point> points, Action<RebuildResult> progress, CancellationToken cancellation)
    {
        foreach (var point in points)
        {
            if (!await AddAsync(point, progress, cancellation))
                return false;
        }

        return true;
    }
}
