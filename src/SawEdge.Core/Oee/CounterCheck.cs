using System.Globalization;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Oee;

/// <summary>What stands out between the parts that were seen and the controller's counter.</summary>
public enum CounterEvent : byte
{
    /// <summary>The counter rose by more than the parts that were seen: cycles while nobody was looking.</summary>
    Unseen,

    /// <summary>It rose by less: a part that it did not count.</summary>
    NotCounted,

    /// <summary>It was set back: what it counted just before is lost.</summary>
    Reset,

    /// <summary>It came to its end and began again.</summary>
    Rollover,
}

/// <summary>One thing that stands out.</summary>
/// <param name="From">End of the cut before.</param>
/// <param name="To">End of the cut at which it showed.</param>
/// <param name="Kind">What.</param>
/// <param name="Counted">By how much the counter rose from one to the other.</param>
/// <param name="Parts">Parts that were seen in that time.</param>
public sealed record CounterStep(DateTimeOffset From, DateTimeOffset To, CounterEvent Kind, long Counted, long Parts)
{
    /// <summary>It in words.</summary>
    public string Words => Kind switch
    {
        CounterEvent.Unseen => Said($"the controller counted {Counted}, {Parts} were seen: {Counted - Parts} more were made"),
        CounterEvent.NotCounted => Said($"the controller counted {Counted} of {Parts} that were seen"),
        CounterEvent.Reset => Said($"the counter was set back; it stands at {Counted} since, {Parts} were seen"),
        _ => Said($"the counter came to its end and began again; it counted {Counted}, {Parts} were seen"),
    };

    private static string Said(FormattableString words) => words.ToString(CultureInfo.InvariantCulture);
}

/// <summary>The parts that were seen held against the controller's own counter: a difference is stated and never hidden.</summary>
public sealed record CounterCheck
{
    /// <summary>Usual widths of counters, binary and decimal.</summary>
    private static readonly long[] Widths = [256, 1_000, 10_000, 32_768, 65_536, 100_000, 1_000_000, 2_147_483_648, 4_294_967_296];

    /// <summary>Parts that were seen between the first and the last reading.</summary>
    public required long Parts { get; init; }

    /// <summary>By how much the counter rose in that time; after a reset from 0 on. Null: fewer than two readings.</summary>
    public required long? Counted { get; init; }

    /// <summary>All that stands out, in order.</summary>
    public required IReadOnlyList<CounterStep> Steps { get; init; }

    /// <summary>Counter less parts: above 0, cycles were not seen; null: there is no counter.</summary>
    public long? Difference => Counted - Parts;

    /// <summary>Whether the counter never rose although parts were made: it is not in use.</summary>
    public bool DoesNotCount => Counted == 0 && Parts > 0;

    /// <summary>Holds the parts against the counter.</summary>
    /// <param name="cuts">The cuts of one saw in order; the reading of the first is where the counting begins.</param>
    public static CounterCheck Of(IReadOnlyList<CycleRecord> cuts)
    {
        var steps = new List<CounterStep>();
        CycleRecord? last = null;
        long parts = 0, seen = 0, counted = 0;
        var readings = 0;
        foreach (var cut in cuts)
        {
            if (last is not null && cut.Outcome is CutOutcome.Completed or CutOutcome.UnobservedStart)
                seen++;
            if (cut.PartCount is not { } value)
                continue;
            readings++;
            if (last is not null)
            {
                var step = Compare((last.PartCount!.Value, last.EndedAt), (value, cut.EndedAt), seen);
                counted += step.Counted;
                parts += seen;
                if (step.Kind is CounterEvent.Reset or CounterEvent.Rollover || step.Counted != step.Parts)
                    steps.Add(step);
            }

            (last, seen) = (cut, 0);
        }

        return new CounterCheck { Parts = parts, Counted = readings > 1 ? counted : null, Steps = steps };
    }

    /// <summary>What lies between two readings.</summary>
    /// <param name="last">The earlier reading and the end of its cut.</param>
    /// <param name="next">The later one.</param>
    /// <param name="seen">Parts that were seen after the earlier cut, up to the later and with it.</param>
    internal static CounterStep Compare((long Value, DateTimeOffset At) last, (long Value, DateTimeOffset At) next, long seen)
    {
        var rise = next.Value - last.Value;
        if (rise >= 0)
            return new CounterStep(last.At, next.At, rise > seen ? CounterEvent.Unseen : CounterEvent.NotCounted, rise, seen);

        // Over the end of its width only if that makes about as many as were seen; a counter that stood anywhere was set back.
        var width = Widths.FirstOrDefault(width => width > last.Value);
        var over = rise + width;
        return width > 0 && over <= (2 * seen) + 2
            ? new CounterStep(last.At, next.At, CounterEvent.Rollover, over, seen)
            : new CounterStep(last.At, next.At, CounterEvent.Reset, Math.Max(0, next.Value), seen);
    }
}
