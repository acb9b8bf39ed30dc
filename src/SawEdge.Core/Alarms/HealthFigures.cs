using static SawEdge.Core.Alarms.AlarmBenchmarks;

namespace SawEdge.Core.Alarms;

/// <summary>The figures with what is advised, in words.</summary>
internal static class HealthFigures
{
    /// <summary>How much there was to heed.</summary>
    public static IEnumerable<HealthFigure> OfLoad(AlarmLoad load) =>
    [
        Rate("alarms_per_day", load.Per(TimeSpan.FromDays(1)), "a day", AcceptablePerDay, ManageablePerDay),
        Rate("alarms_per_hour", load.Per(TimeSpan.FromHours(1)), "an hour", AcceptablePerHour, ManageablePerHour),
        Rate("alarms_per_10_min", load.Per(TimeSpan.FromMinutes(10)), "in ten minutes", AcceptablePerTenMinutes, ManageablePerTenMinutes),
        new("worst_10_min", load.WorstTenMinutes, "", Text($"{ManyInTenMinutes} or less"), load.WorstTenMinutes <= ManyInTenMinutes,
            Text($"The worst ten minutes brought {Alarms(load.WorstTenMinutes)}; at most {ManyInTenMinutes} are advised.")),
        Rare("periods_10_min_above_10", load.ShareOfSpansAbove(TimeSpan.FromMinutes(10), ManyInTenMinutes), Text($"of the ten-minute periods brought more than {ManyInTenMinutes} alarms")),
        Rare("hours_above_30", load.ShareOfSpansAbove(TimeSpan.FromHours(1), ManyInAnHour), Text($"of the hours brought more than {ManyInAnHour} alarms")),
        Rare("time_in_flood", load.ShareInFlood(), Text($"of the time was a flood of alarms (from more than {FloodFrom} until fewer than {FloodUntil} in ten minutes)")),
    ];

    /// <summary>How much the ten most frequent make up.</summary>
    public static HealthFigure OfMostFrequent(IReadOnlyList<FrequentAlarm> frequent, int all)
    {
        var share = all > 0 ? (double)frequent.Sum(alarm => alarm.Count) / all : double.NaN;
        return new("top_10_share", share, "share", Text($"{Percent(TopTenShare)} or less"), all < LeastForShares ? null : share <= TopTenShare,
            all == 0 ? "There were no alarms." : Text($"The ten most frequent alarms make up {Percent(share)} of all; {Percent(TopTenShare)} or less is advised{TooFew(all)}."));
    }

    /// <summary>Those that come and go.</summary>
    public static HealthFigure OfRestless(int chattering, int fleeting) => new("chattering_and_fleeting", chattering + fleeting, "", "none", chattering + fleeting == 0,
        Text($"{Alarms(chattering)} chattered ({ChatterFrom} or more within {ChatterWithin.TotalSeconds:0} s), {fleeting} went within {FleetingWithin.TotalSeconds:0} s; none are advised."));

    /// <summary>Those that stay.</summary>
    public static HealthFigure OfStanding(int mostOnADay) => new("standing", mostOnADay, "", Text($"fewer than {StandingOnADay} on any day"), mostOnADay < StandingOnADay,
        Text($"On the worst day {Alarms(mostOnADay)} stood for more than {StandingAfter.TotalHours:0} h; fewer than {StandingOnADay} are advised."));

    /// <summary>How many were right.</summary>
    public static HealthFigure OfJudged(int confirmed, int judged) => new("confirmed_of_judged", judged > 0 ? (double)confirmed / judged : double.NaN, "share", "", null,
        judged == 0 ? "Nobody has said of any alarm whether it was right." : Text($"Of {judged} that somebody judged {confirmed} were right ({Percent((double)confirmed / judged)})."));

    /// <summary>How many were urgent.</summary>
    public static IEnumerable<HealthFigure> OfSeverities(IReadOnlyList<AlarmSeverity> severities)
    {
        foreach (var severity in Enum.GetValues<AlarmSeverity>())
        {
            var (advised, isLow) = (SeveritySplit[(int)severity], severity == AlarmSeverity.Low);
            var share = severities.Count > 0 ? (double)severities.Count(each => each == severity) / severities.Count : double.NaN;
            var words = Text($"about {Percent(advised)} or {(isLow ? "more" : "less")}");
            yield return new($"severity_{severity.ToName()}", share, "share", words, severities.Count < LeastForShares ? null : isLow ? share >= advised : share <= advised,
                severities.Count == 0 ? "There were no alarms." : Text($"{Percent(share)} were of {severity.ToName()} severity; {words} is advised{TooFew(severities.Count)}."));
        }
    }

    private static HealthFigure Rate(string name, double value, string per, double acceptable, double manageable) =>
        new(name, value, "", Text($"about {acceptable}, at most {manageable}"), value <= acceptable,
            Text($"{value:0.##} alarms {per}; about {acceptable} are acceptable, about {manageable} are the most that one person can manage{(value > manageable ? ": too many" : "")}."));

    private static HealthFigure Rare(string name, double share, string words) =>
        new(name, share, "share", Text($"less than {Percent(RareShare)}"), share < RareShare, Text($"{Percent(share)} {words}; less than {Percent(RareShare)} is advised."));

    private static string TooFew(int count) => count < LeastForShares ? Text($", which says little for fewer than {LeastForShares} alarms") : "";

    private static string Alarms(int count) => count == 1 ? "1 alarm" : Text($"{count} alarms");

    private static string Percent(double share) => Text($"{share * 100:0.##} %");

    private static string Text(FormattableString words) => FormattableString.Invariant(words);
}
