using SawEdge.Core.Cycles;

namespace SawEdge.Core.Oee;

/// <summary>
/// The parts of one saw held against its controller's counter over a period, in a form that adds up: that of a longer period is made by
/// joining those of its parts in order, and what lies between two parts is not lost. Says in sums what <see cref="CounterCheck"/> says step by step.
/// </summary>
public sealed record CounterSum
{
    /// <summary>Nothing.</summary>
    public static CounterSum None { get; } = new();

    /// <summary>How many cuts came with a reading.</summary>
    public long Readings { get; init; }

    /// <summary>Parts that were seen between the first and the last reading.</summary>
    public long Parts { get; init; }

    /// <summary>By how much the counter rose in that time; after a reset from 0 on.</summary>
    public long Counted { get; init; }

    /// <summary>Of what was counted, that which was not seen.</summary>
    public long Unseen { get; init; }

    /// <summary>Of what was seen, that which was not counted.</summary>
    public long NotCounted { get; init; }

    /// <summary>How often the counter was set back.</summary>
    public long Resets { get; init; }

    /// <summary>How often it came to its end and began again.</summary>
    public long Rollovers { get; init; }

    /// <summary>The first reading; 0 without one.</summary>
    public long First { get; init; }

    /// <summary>The last reading; 0 without one.</summary>
    public long Last { get; init; }

    /// <summary>Parts that were seen up to the first reading, its own cut included; without a reading all that were seen.</summary>
    public long SeenBefore { get; init; }

    /// <summary>Parts that were seen after the last reading.</summary>
    public long SeenAfter { get; init; }

    /// <summary>Counter less parts: above 0, cycles were not seen; null: fewer than two readings.</summary>
    public long? Difference => Readings > 1 ? Counted - Parts : null;

    /// <summary>Whether the counter never rose although parts were made: it is not in use.</summary>
    public bool DoesNotCount => Readings > 1 && Counted == 0 && Parts > 0;

    /// <summary>What a later period goes on from: the last reading and what was seen since, without what was counted before.</summary>
    public CounterSum Tail => Readings == 0 ? None : new CounterSum { Readings = 1, First = Last, Last = Last, SeenAfter = SeenAfter };

    /// <summary>The sum of some cuts.</summary>
    /// <param name="cuts">The cuts of one saw in order.</param>
    public static CounterSum Of(IEnumerable<CycleRecord> cuts)
    {
        var sum = None;
        foreach (var cut in cuts)
        {
            var seen = cut.Outcome is CutOutcome.Completed or CutOutcome.UnobservedStart ? 1 : 0;
            sum = Join(sum, cut.PartCount is { } value ? new CounterSum { Readings = 1, First = value, Last = value, SeenBefore = seen } : new CounterSum { SeenBefore = seen });
        }

        return sum;
    }

    /// <summary>That of two periods that follow each other.</summary>
    public static CounterSum Join(CounterSum earlier, CounterSum later)
    {
        if (earlier.Readings == 0)
            return later with { SeenBefore = earlier.SeenBefore + later.SeenBefore };
        if (later.Readings == 0)
            return earlier with { SeenAfter = earlier.SeenAfter + later.SeenBefore };
        var step = CounterCheck.Compare((earlier.Last, default), (later.First, default), earlier.SeenAfter + later.SeenBefore);
        return new CounterSum
        {
            Readings = earlier.Readings + later.Readings,
            Parts = earlier.Parts + step.Parts + later.Parts,
            Counted = earlier.Counted + step.Counted + later.Counted,
            Unseen = earlier.Unseen + Math.Max(0, step.Counted - step.Parts) + later.Unseen,
            NotCounted = earlier.NotCounted + Math.Max(0, step.Parts - step.Counted) + later.NotCounted,
            Resets = earlier.Resets + (step.Kind == CounterEvent.Reset ? 1 : 0) + later.Resets,
            Rollovers = earlier.Rollovers + (step.Kind == CounterEvent.Rollover ? 1 : 0) + later.Rollovers,
            First = earlier.First,
            Last = later.Last,
            SeenBefore = earlier.SeenBefore,
            SeenAfter = later.SeenAfter,
        };
    }
}
