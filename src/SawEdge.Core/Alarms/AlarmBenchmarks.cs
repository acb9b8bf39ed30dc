namespace SawEdge.Core.Alarms;

/// <summary>
/// What the standards advise for the load of alarms on one operator. Unless a member says otherwise these are figures of IEC 62682 and
/// ANSI/ISA-18.2 as restated in public repositories; the standards themselves were not read.
/// </summary>
public static class AlarmBenchmarks
{
    /// <summary>Alarms a day that are very likely acceptable (ISA-18.2-2009 prints about 150, from memory).</summary>
    public const double AcceptablePerDay = 144;

    /// <summary>Alarms a day that can be managed at most (ISA-18.2-2009 prints about 300, from memory).</summary>
    public const double ManageablePerDay = 288;

    /// <summary>Alarms an hour that are very likely acceptable.</summary>
    public const double AcceptablePerHour = 6;

    /// <summary>Alarms an hour that can be managed at most.</summary>
    public const double ManageablePerHour = 12;

    /// <summary>Alarms in ten minutes on average that are very likely acceptable.</summary>
    public const double AcceptablePerTenMinutes = 1;

    /// <summary>Alarms in ten minutes on average that can be managed at most.</summary>
    public const double ManageablePerTenMinutes = 2;

    /// <summary>Alarms above which an hour is counted as one with too many.</summary>
    public const int ManyInAnHour = 30;

    /// <summary>Alarms above which ten minutes are counted as too many, and the most there should be in any (another restatement prints 5).</summary>
    public const int ManyInTenMinutes = 10;

    /// <summary>Share of hours, of ten minutes and of the time in flood that should not be reached.</summary>
    public const double RareShare = 0.01;

    /// <summary>A flood begins above so many alarms in ten minutes (ISA-18.2, clause 16; ISA-TR18.2.5; from memory).</summary>
    public const int FloodFrom = 10;

    /// <summary>A flood ends below so many alarms in ten minutes (same source; from memory).</summary>
    public const int FloodUntil = 5;

    /// <summary>Greatest share of the load that the ten most frequent alarms should make up; 1 % to 5 %.</summary>
    public const double TopTenShare = 0.05;

    /// <summary>Alarms on any day that should not be reached by those active for more than <see cref="StandingAfter"/>.</summary>
    public const int StandingOnADay = 5;

    /// <summary>An alarm that is active for longer is standing, or stale (ISA-18.2; from memory).</summary>
    public static readonly TimeSpan StandingAfter = TimeSpan.FromHours(24);

    /// <summary>Alarms within <see cref="ChatterWithin"/> from which on one chatters (ISA-18.2, EEMUA 191; from memory).</summary>
    public const int ChatterFrom = 3;

    /// <summary>See <see cref="ChatterFrom"/>.</summary>
    public static readonly TimeSpan ChatterWithin = TimeSpan.FromMinutes(1);

    /// <summary>An alarm whose condition goes sooner, and that does not chatter, is fleeting. Common practice, no source.</summary>
    public static readonly TimeSpan FleetingWithin = TimeSpan.FromMinutes(1);

    /// <summary>Share of alarms of low, medium and high severity.</summary>
    public static readonly IReadOnlyList<double> SeveritySplit = [0.80, 0.15, 0.05];

    /// <summary>Alarms below which shares among them are not judged. Own choice: the advice is for hundreds of alarms.</summary>
    public const int LeastForShares = 100;
}
