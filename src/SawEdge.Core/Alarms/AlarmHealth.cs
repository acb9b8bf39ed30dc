namespace SawEdge.Core.Alarms;

/// <summary>One figure of the health of the alarms.</summary>
/// <param name="Name">Its name, snake case.</param>
/// <param name="Value">The value, in <paramref name="Unit"/>; NaN where there is nothing to take it from.</param>
/// <param name="Unit">Unit: empty for counts, <c>share</c> for parts of 1.</param>
/// <param name="Benchmark">What is advised, in words; empty where nothing is.</param>
/// <param name="IsWithin">Whether the value is as advised; null where nothing is advised or there is too little to judge by.</param>
/// <param name="Sentence">The figure in plain words.</param>
public sealed record HealthFigure(string Name, double Value, string Unit, string Benchmark, bool? IsWithin, string Sentence);

/// <summary>How often one alarm came.</summary>
/// <param name="Rule">Name of the rule.</param>
/// <param name="Subject">What it is about.</param>
/// <param name="Count">How often.</param>
/// <param name="Share">Share of all alarms.</param>
public sealed record FrequentAlarm(string Rule, AlarmSubject Subject, int Count, double Share);

/// <summary>
/// Whether the alarms of a period were such that a person could heed them, held against <see cref="AlarmBenchmarks"/>. An alarm counts each
/// time it is announced: when it becomes unacknowledged (B). What was suppressed, shelved or out of service all the time was not announced.
/// </summary>
public sealed record AlarmHealth
{
    /// <summary>Begin of the period.</summary>
    public required DateTimeOffset From { get; init; }

    /// <summary>End of the period.</summary>
    public required DateTimeOffset To { get; init; }

    /// <summary>Alarms announced in the period.</summary>
    public required int Announced { get; init; }

    /// <summary>All figures, in the order in which they are read best.</summary>
    public required IReadOnlyList<HealthFigure> Figures { get; init; }

    /// <summary>The ten most frequent, the most frequent first.</summary>
    public required IReadOnlyList<FrequentAlarm> MostFrequent { get; init; }

    /// <summary>Those that chattered: announced three times or more within a minute, or held by the board because their condition came so often.</summary>
    public required IReadOnlyList<FrequentAlarm> Chattering { get; init; }

    /// <summary>Those that were fleeting: their condition went within a minute after they were announced, and they did not chatter. The count is of those times.</summary>
    public required IReadOnlyList<FrequentAlarm> Fleeting { get; init; }

    /// <summary>Occurrences that were active for more than 24 hours at some time of the period, oldest first; those put aside now are left out.</summary>
    public required IReadOnlyList<Alarm> Standing { get; init; }

    /// <summary>Takes stock of a period.</summary>
    /// <param name="events">The events; those outside of the period are passed over.</param>
    /// <param name="occurrences">The occurrences as they are now, also those from before the period that reach into it.</param>
    /// <param name="from">Begin.</param>
    /// <param name="to">End; after the begin.</param>
    /// <exception cref="ArgumentException">The period has no length.</exception>
    public static AlarmHealth Of(IEnumerable<AlarmEvent> events, IEnumerable<Alarm> occurrences, DateTimeOffset from, DateTimeOffset to)
    {
        if (to <= from)
            throw new ArgumentException("The period must end after it begins.", nameof(to));
        var within = events.Where(happened => happened.At >= from && happened.At < to).OrderBy(happened => happened.At).ToList();
        var announced = within.Where(IsAnnounced).ToList();
        var load = new AlarmLoad([.. announced.Select(happened => happened.At)], from, to);
        var chattering = ChatteringIn(within, announced);
        var fleeting = FleetingIn(within, chattering, announced.Count);
        var frequent = announced.GroupBy(Key).Select(same => new FrequentAlarm(same.Key.Rule, same.Key.Subject, same.Count(), (double)same.Count() / announced.Count))
            .OrderByDescending(alarm => alarm.Count).ThenBy(alarm => alarm.Rule, StringComparer.Ordinal).ThenBy(alarm => alarm.Subject.ToString(), StringComparer.Ordinal).Take(10).ToList();
        var known = occurrences.OrderBy(alarm => alarm.Number).ToList();
        var standing = known.Where(alarm => Stands(alarm, from, to)).ToList();
        var mostOnADay = Days(from, to).Max(day => standing.Count(alarm => Stands(alarm, day.From, day.To)));
        var judged = known.Where(alarm => alarm.RaisedAt >= from && alarm.RaisedAt < to && alarm.Verdict != AlarmVerdict.None).ToList();
        return new AlarmHealth
        {
            From = from,
            To = to,
            Announced = announced.Count,
            MostFrequent = frequent,
            Chattering = chattering,
            Fleeting = fleeting,
            Standing = standing,
            Figures =
            [
                .. HealthFigures.OfLoad(load),
                HealthFigures.OfMostFrequent(frequent, announced.Count),
                HealthFigures.OfRestless(chattering.Count, fleeting.Count),
                HealthFigures.OfStanding(mostOnADay),
                HealthFigures.OfJudged(judged.Count(alarm => alarm.Verdict == AlarmVerdict.Confirmed), judged.Count),
                .. HealthFigures.OfSeverities([.. announced.Where(happened => happened.Alarm is not null).Select(happened => happened.Alarm!.Severity)]),
            ],
        };
    }

    private static bool IsAnnounced(AlarmEvent happened) => happened.After == AlarmState.Unacknowledged && happened.Before != AlarmState.Unacknowledged;

    private static (string Rule, AlarmSubject Subject) Key(AlarmEvent happened) => (happened.Rule, happened.Subject);

    private static List<FrequentAlarm> ChatteringIn(List<AlarmEvent> within, List<AlarmEvent> announced)
    {
        var held = within.Where(happened => happened.Kind == AlarmEventKind.Chattering).Select(Key).ToHashSet();
        var counts = announced.GroupBy(Key).ToDictionary(same => same.Key, same => same.Select(happened => happened.At).ToList());
        bool Chatters(List<DateTimeOffset> times) =>
            times.Skip(AlarmBenchmarks.ChatterFrom - 1).Where((time, i) => time - times[i] <= AlarmBenchmarks.ChatterWithin).Any();
        return Sorted(counts.Where(same => Chatters(same.Value)).Select(same => same.Key).Union(held)
            .Select(key => (key, counts.TryGetValue(key, out var times) ? times.Count : 0)), announced.Count);
    }

    private static List<FrequentAlarm> FleetingIn(List<AlarmEvent> within, List<FrequentAlarm> chattering, int all)
    {
        var restless = chattering.Select(alarm => (alarm.Rule, alarm.Subject)).ToHashSet();
        var since = new Dictionary<(string, AlarmSubject), DateTimeOffset>();
        var counts = new Dictionary<(string, AlarmSubject), int>();
        foreach (var happened in within.Where(happened => !restless.Contains(Key(happened))))
        {
            if (IsAnnounced(happened))
                since[Key(happened)] = happened.At;
            else if (happened.Kind == AlarmEventKind.Cleared && since.Remove(Key(happened), out var begin) && happened.At - begin < AlarmBenchmarks.FleetingWithin)
                counts[Key(happened)] = counts.GetValueOrDefault(Key(happened)) + 1;
        }

        return Sorted(counts.Select(same => (same.Key, same.Value)), all);
    }

    private static List<FrequentAlarm> Sorted(IEnumerable<((string Rule, AlarmSubject Subject) Key, int Count)> alarms, int all) =>
        [.. alarms.Select(same => new FrequentAlarm(same.Key.Rule, same.Key.Subject, same.Count, all > 0 ? (double)same.Count / all : 0))
            .OrderByDescending(alarm => alarm.Count).ThenBy(alarm => alarm.Rule, StringComparer.Ordinal).ThenBy(alarm => alarm.Subject.ToString(), StringComparer.Ordinal)];

    private static bool Stands(Alarm alarm, DateTimeOffset from, DateTimeOffset to)
    {
        if (alarm.IsActive && alarm.State is AlarmState.Shelved or AlarmState.SuppressedByDesign or AlarmState.OutOfService)
            return false;
        var since = alarm.RaisedAt + AlarmBenchmarks.StandingAfter;
        return since < to && (alarm.ClearedAt ?? DateTimeOffset.MaxValue) > (since > from ? since : from);
    }

    private static IEnumerable<(DateTimeOffset From, DateTimeOffset To)> Days(DateTimeOffset from, DateTimeOffset to)
    {
        for (var day = from; day < to; day = day.AddDays(1))
            yield return (day, day.AddDays(1) < to ? day.AddDays(1) : to);
    }
}
