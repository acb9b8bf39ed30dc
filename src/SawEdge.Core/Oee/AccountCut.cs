using SawEdge.Core.Cycles;

namespace SawEdge.Core.Oee;

/// <summary>What a cut's time is held against.</summary>
internal enum CutWorth : byte
{
    /// <summary>Its standard.</summary>
    Standard,

    /// <summary>Nothing: it counts as what it took. Of a cut that was seen in part only a standard for the whole would say nothing.</summary>
    Own,

    /// <summary>It prepares a bar: setup.</summary>
    Setup,

    /// <summary>It came to nothing.</summary>
    Lost,
}

/// <summary>One cycle as the account of time sees it. Times in UTC ticks.</summary>
internal sealed class AccountCut
{
    public AccountCut(CycleRecord record, long notBefore)
    {
        Id = record.CycleId;
        Job = record.Job;
        From = Math.Max(record.StartedAt.UtcTicks, notBefore);
        To = Math.Max(record.EndedAt.UtcTicks, From);
        HandlingFrom = From;
        IsWhole = record.CutStartedAt is null || record.CutEndedAt is null;
        CutFrom = IsWhole ? From : Math.Clamp(record.CutStartedAt!.Value.UtcTicks, From, To);
        CutTo = IsWhole ? To : Math.Clamp(record.CutEndedAt!.Value.UtcTicks, CutFrom, To);
        (Worth, IsPart, IsUncertain) = record.Outcome switch
        {
            CutOutcome.Completed => (CutWorth.Standard, true, false),
            CutOutcome.UnobservedStart => (CutWorth.Own, true, false),
            CutOutcome.UnobservedEnd => (CutWorth.Own, false, true),
            CutOutcome.Partial => (CutWorth.Own, false, false),
            CutOutcome.Trim => (CutWorth.Setup, false, false),
            _ => (CutWorth.Lost, false, false),
        };
        if (Worth == CutWorth.Standard)
            ReadStandards(record);
    }

    public string Id { get; }

    public string Job { get; }

    /// <summary>Begin of the cycle.</summary>
    public long From { get; }

    /// <summary>End of the cycle.</summary>
    public long To { get; }

    /// <summary>Begin of its handling, before the cycle where handling lies between cycles.</summary>
    public long HandlingFrom { get; set; }

    /// <summary>Contact; begin of the cycle where the ends of the cut were not seen.</summary>
    public long CutFrom { get; }

    /// <summary>Breakthrough; end of the cycle where the ends of the cut were not seen.</summary>
    public long CutTo { get; }

    /// <summary>Whether cut and handling cannot be told apart: all of the cycle then counts as cutting.</summary>
    public bool IsWhole { get; }

    public CutWorth Worth { get; }

    public bool IsPart { get; }

    public bool IsUncertain { get; }

    public bool IsScrap { get; set; }

    /// <summary>Whether the end of the cycle lies in planned busy time.</summary>
    public bool EndsInPlanned { get; set; }

    /// <summary>The cutting.</summary>
    public WorkShare Cutting { get; } = new();

    /// <summary>The handling.</summary>
    public WorkShare Handling { get; } = new();

    public bool HasNoStandard => Worth == CutWorth.Own || (Worth == CutWorth.Standard && (Cutting.Standard is null || (!IsWhole && Handling.Standard is null)));

    /// <summary>The last moment that belongs to it: a cycle that ends with a shift belongs to that shift.</summary>
    public long LastMoment => Math.Max(From, To - 1);

    public WorkShare ShareAt(long ticks) => ticks >= CutFrom && ticks < CutTo ? Cutting : Handling;

    private void ReadStandards(CycleRecord record)
    {
        if (IsWhole)
        {
            Cutting.Standard = Ticks(record.StandardCycleTimeS);
            return;
        }

        Cutting.Standard = Ticks(record.StandardCutTimeS);
        if (record.StandardCycleTimeS >= record.StandardCutTimeS)
            Handling.Standard = Ticks(record.StandardCycleTimeS - record.StandardCutTimeS);
    }

    private static long? Ticks(double? seconds) => seconds is >= 0 and < 1e9 ? (long)Math.Round(seconds.Value * TimeSpan.TicksPerSecond) : null;
}

/// <summary>The cutting or the handling of one cut: what it took and what it should have taken, ticks. The standard is spread evenly over the work.</summary>
internal sealed class WorkShare
{
    /// <summary>What it should have taken; null: there is no standard, and it counts as what it took.</summary>
    public long? Standard { get; set; }

    /// <summary>What it took, with the time in which the saw was not seen and without stops.</summary>
    public long Work { get; set; }

    /// <summary>Standard time earned in a stretch of the work, ticks. Stretches add up to the last tick.</summary>
    public long Earned(long from, long to) => Part(Standard ?? Work, from, to);

    /// <summary>Of the time of a stretch, what the standard allows for, ticks.</summary>
    public long AtStandard(long from, long to) => Part(Math.Min(Standard ?? Work, Work), from, to);

    private long Part(long whole, long from, long to) => Work == 0 ? 0 : (long)((Int128)whole * to / Work) - (long)((Int128)whole * from / Work);
}
