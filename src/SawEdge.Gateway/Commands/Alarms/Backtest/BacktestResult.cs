using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary>An alarm that would have come.</summary>
/// <param name="Alarm">As it was at the end.</param>
/// <param name="Announced">How often somebody would have been told that it came; 0: it was suppressed, one cause, one message.</param>
/// <param name="Verdict">What people found at that saw at that time; none where nobody said.</param>
internal sealed record TriedAlarm(Alarm Alarm, int Announced, AlarmVerdict Verdict);

/// <summary>An alarm of the past that people judged, and whether the rules would have raised one there.</summary>
/// <param name="Alarm">The alarm of the past.</param>
/// <param name="Rules">The rules that would have raised one, each once; empty: none.</param>
internal sealed record JudgedAlarm(Alarm Alarm, IReadOnlyList<string> Rules);

/// <summary>What a contact would have been sent.</summary>
/// <param name="Contact">The contact.</param>
/// <param name="Messages">Messages.</param>
/// <param name="Reminders">Reminders among them.</param>
/// <param name="Escalated">Messages among them because nobody acknowledged.</param>
internal sealed record ContactLoad(string Contact, int Messages, int Reminders, int Escalated);

/// <summary>What a set of rules would have done.</summary>
internal sealed record BacktestResult
{
    /// <summary>What the rules came from, for people.</summary>
    public required string Name { get; init; }

    /// <summary>What they were tried on.</summary>
    public required WatchedPast Past { get; init; }

    /// <summary>The alarms that would have come, oldest first.</summary>
    public required IReadOnlyList<TriedAlarm> Alarms { get; init; }

    /// <summary>The most alarms that would have been announced in any 10 minutes.</summary>
    public int WorstTenMinutes { get; init; }

    /// <summary>When those began; null where there were none.</summary>
    public DateTimeOffset? WorstAt { get; init; }

    /// <summary>What each contact would have been sent.</summary>
    public required IReadOnlyList<ContactLoad> Contacts { get; init; }

    /// <summary>The alarms of that time that people judged and that can be tried, oldest first.</summary>
    public required IReadOnlyList<JudgedAlarm> Judged { get; init; }

    /// <summary>Judged alarms of that time of which the kind of rule cannot be tried on this.</summary>
    public int JudgedElsewhere { get; init; }

    /// <summary>Rules that cannot be tried on this, in the order of the configuration.</summary>
    public required IReadOnlyList<AlarmRule> NotTried { get; init; }

    /// <summary>Rules that were tried, in the order of the configuration.</summary>
    public required IReadOnlyList<AlarmRule> Tried { get; init; }

    /// <summary>How soon people were taken to answer; null: never.</summary>
    public TimeSpan? AnswerAfter { get; init; }

    /// <summary>How long it took.</summary>
    public TimeSpan Took { get; init; }

    /// <summary>The alarms of which somebody would have been told.</summary>
    public IEnumerable<TriedAlarm> Announced => Alarms.Where(alarm => alarm.Announced > 0);

    /// <summary>Days that were looked at.</summary>
    public double Days => Past.From > Past.To ? 0 : (Past.To - Past.From).TotalDays;

    /// <summary>The judged alarms of a verdict for which the rules would have raised one, or not.</summary>
    public IEnumerable<JudgedAlarm> Of(AlarmVerdict verdict, bool raised) => Judged.Where(judged => judged.Alarm.Verdict == verdict && judged.Rules.Count > 0 == raised);
}
