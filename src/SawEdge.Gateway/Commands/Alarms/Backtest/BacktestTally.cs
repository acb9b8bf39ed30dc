using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>Counts what a set of rules would have done, and holds it against what people found. Pure.</summary>
internal static class BacktestTally
{
    /// <summary>How far two alarms of one saw may lie apart and still be about the same thing, where no cycle tells.</summary>
    public static readonly TimeSpan Nearness = TimeSpan.FromMinutes(10);

    private static readonly TimeSpan Window = TimeSpan.FromMinutes(10);

    /// <summary>Counts.</summary>
    /// <param name="name">What the rules came from.</param>
    /// <param name="alarms">Rules and contacts.</param>
    /// <param name="past">What they were tried on.</param>
    /// <param name="events">What would have happened, in order.</param>
    /// <param name="notices">The messages that would have gone out.</param>
    /// <param name="stored">The alarms of the past; those that nobody judged do not count.</param>
    public static BacktestResult Count(string name, AlarmOptions alarms, WatchedPast past, IReadOnlyList<AlarmEvent> events, IReadOnlyList<Notice> notices, IReadOnlyList<Alarm> stored)
    {
        var tried = Alarms(events);
        var judged = stored.Where(alarm => alarm.Verdict != AlarmVerdict.None).OrderBy(alarm => alarm.RaisedAt).ToList();
        var topics = alarms.Rules.ToDictionary(rule => rule.Name, rule => rule.Variable.Topic, StringComparer.Ordinal);
        bool CanBeTried(Alarm alarm) =>
            alarm.Subject.Kind == AlarmSubjectKind.Saw && past.Saws.Contains(alarm.Subject.Name) && (!topics.TryGetValue(alarm.Rule, out var topic) || past.Topics.Contains(topic));
        var (worst, worstAt) = Worst([.. events.Where(IsAnnounced).Select(happened => happened.At)]);
        return new BacktestResult
        {
            Name = name,
            Past = past,
            Alarms = [.. tried.Select(one => new TriedAlarm(one.Alarm, one.Announced, VerdictOf(one.Alarm, judged)))],
            WorstTenMinutes = worst,
            WorstAt = worstAt,
            Contacts =
            [
                .. alarms.Contacts.Select(contact => notices.Where(notice => notice.Contact == contact.Name).ToList() is var own
                    ? new ContactLoad(contact.Name, own.Count, own.Count(notice => notice.Kind == NoticeKind.Reminder), own.Count(notice => notice.Kind == NoticeKind.Escalated))
                    : null!),
            ],
            Judged =
            [
                .. judged.Where(CanBeTried).Select(alarm => new JudgedAlarm(
                    alarm,
                    [.. tried.Where(one => one.Announced > 0 && IsSame(one.Alarm, alarm)).Select(one => one.Alarm.Rule).Distinct(StringComparer.Ordinal)])),
            ],
            JudgedElsewhere = judged.Count(alarm => !CanBeTried(alarm)),
            Tried = [.. alarms.Rules.Where(rule => past.Topics.Contains(rule.Variable.Topic))],
            NotTried = [.. alarms.Rules.Where(rule => !past.Topics.Contains(rule.Variable.Topic))],
        };
    }

    /// <summary>The most of some moments that lie within any 10 minutes, and the first of those.</summary>
    /// <param name="moments">The moments, in order.</param>
    public static (int Count, DateTimeOffset? At) Worst(IReadOnlyList<DateTimeOffset> moments)
    {
        var (most, at, first) = (0, (DateTimeOffset?)null, 0);
        for (var last = 0; last < moments.Count; last++)
        {
            while (moments[last] - moments[first] >= Window)
                first++;
            if (last - first + 1 > most)
                (most, at) = (last - first + 1, moments[first]);
        }

        return (most, at);
    }

    /// <summary>
    /// Whether an alarm that would have come is about the same thing as one of the past: the same saw, and the same cycle, or nearly
    /// the same time, or the same rule that was active already then.
    /// </summary>
    public static bool IsSame(Alarm tried, Alarm stored) =>
        tried.Subject == stored.Subject
        && ((tried.CycleId is not null && tried.CycleId == stored.CycleId)
            || (tried.RaisedAt - stored.RaisedAt).Duration() <= Nearness
            || (tried.Rule == stored.Rule && tried.RaisedAt <= stored.RaisedAt && (tried.ClearedAt is null || tried.ClearedAt >= stored.RaisedAt)));

    private static List<(Alarm Alarm, int Announced)> Alarms(IReadOnlyList<AlarmEvent> events)
    {
        var alarms = new OrderedDictionary<long, (Alarm Alarm, int Announced)>();
        foreach (var happened in events)
        {
            if (happened.Alarm is not { } alarm)
                continue;
            var before = alarms.TryGetValue(alarm.Number, out var known) ? known.Announced : 0;
            alarms[alarm.Number] = (alarm, before + (IsAnnounced(happened) ? 1 : 0));
        }

        return [.. alarms.Values];
    }

    // It came, or came out of suppression, and waits for somebody.
    private static bool IsAnnounced(AlarmEvent happened) => happened.After == AlarmState.Unacknowledged && happened.Before != AlarmState.Unacknowledged;

    // Where people disagree, that something was found counts.
    private static AlarmVerdict VerdictOf(Alarm tried, List<Alarm> judged)
    {
        var verdicts = judged.Where(alarm => IsSame(tried, alarm)).Select(alarm => alarm.Verdict).ToList();
        return verdicts.Contains(AlarmVerdict.Confirmed) ? AlarmVerdict.Confirmed : verdicts.FirstOrDefault();
    }
}
