namespace SawEdge.Core.Oee;

/// <summary>The times that the formulas of ISO 22400-2 are made of, as OPC UA for Machine Tools, C.2.4, restates them.</summary>
/// <param name="PlannedBusyTime">Planned busy time (PBT).</param>
/// <param name="Unknown">Of it, the time in which the saw was not seen.</param>
/// <param name="ActualProductionTime">Actual production time (APT).</param>
/// <param name="PlannedRunTime">Planned run time of all parts: PRI * PQ, or its sum over all cuts where jobs differ.</param>
/// <param name="GoodRunTime">Planned run time of the good parts: PRI * GQ, or its sum.</param>
public readonly record struct OeeElements(TimeSpan PlannedBusyTime, TimeSpan Unknown, TimeSpan ActualProductionTime, TimeSpan PlannedRunTime, TimeSpan GoodRunTime)
{
    /// <summary>The elements where all parts have the same planned run time.</summary>
    /// <param name="plannedBusyTime">Planned busy time (PBT).</param>
    /// <param name="actualProductionTime">Actual production time (APT).</param>
    /// <param name="plannedRunTimePerItem">Planned run time per item (PRI).</param>
    /// <param name="produced">Produced quantity (PQ).</param>
    /// <param name="good">Good quantity (GQ).</param>
    public static OeeElements OfOneItem(TimeSpan plannedBusyTime, TimeSpan actualProductionTime, TimeSpan plannedRunTimePerItem, long produced, long good) =>
        new(plannedBusyTime, TimeSpan.Zero, actualProductionTime, plannedRunTimePerItem * produced, plannedRunTimePerItem * good);
}

/// <summary>
/// The figures, as parts of 1; NaN where there is nothing to divide by. Nothing is capped: an effectiveness above 1 says that a standard
/// is too loose. Unknown time is taken out of the planned busy time, so that it is neither uptime nor downtime: with
/// nothing unknown that is the formula of the standard, and <see cref="AvailabilityLow"/> and <see cref="AvailabilityHigh"/> say how far off it can be.
/// </summary>
public readonly record struct OeeFigures
{
    /// <summary>Availability = APT / PBT, over the time in which the saw was seen.</summary>
    public required double Availability { get; init; }

    /// <summary>Effectiveness = PRI * PQ / APT.</summary>
    public required double Effectiveness { get; init; }

    /// <summary>Quality ratio = GQ / PQ, each part weighed with its planned run time, so that the product is right for mixed jobs: of one kind of part it is the share of the pieces.</summary>
    public required double QualityRatio { get; init; }

    /// <summary>OEE = availability * effectiveness * quality ratio = PRI * GQ / PBT.</summary>
    public required double Oee { get; init; }

    /// <summary>Share of the planned busy time in which the saw was not seen.</summary>
    public required double UnknownShare { get; init; }

    /// <summary>Availability if the saw stood in all of the unknown time.</summary>
    public required double AvailabilityLow { get; init; }

    /// <summary>Availability if the saw ran in all of the unknown time.</summary>
    public required double AvailabilityHigh { get; init; }

    /// <summary>Whether a standard is too loose: more was made than its time allows.</summary>
    public bool BeatsStandard => Effectiveness > 1;

    /// <summary>The figures by the formulas.</summary>
    public static OeeFigures Of(OeeElements elements)
    {
        var observed = elements.PlannedBusyTime - elements.Unknown;
        var availability = Ratio(elements.ActualProductionTime, observed);
        var effectiveness = Ratio(elements.PlannedRunTime, elements.ActualProductionTime);
        var quality = Ratio(elements.GoodRunTime, elements.PlannedRunTime);
        return new OeeFigures
        {
            Availability = availability,
            Effectiveness = effectiveness,
            QualityRatio = quality,

            // A saw that made nothing has no quality, but its OEE is known: 0.
            Oee = elements.GoodRunTime == TimeSpan.Zero ? Ratio(TimeSpan.Zero, observed) : availability * effectiveness * quality,
            UnknownShare = Ratio(elements.Unknown, elements.PlannedBusyTime),
            AvailabilityLow = Ratio(elements.ActualProductionTime, elements.PlannedBusyTime),
            AvailabilityHigh = Ratio(elements.ActualProductionTime + elements.Unknown, elements.PlannedBusyTime),
        };
    }

    /// <summary>The figures by the losses: what is left of the planned busy time when bucket after bucket is taken away.</summary>
    public static OeeFigures Of(OeeBuckets buckets)
    {
        var observed = buckets.Sum - buckets[OeeBucket.Unknown];
        var running = observed - buckets[OeeBucket.ShortStops] - buckets[OeeBucket.StopsByReason] - buckets[OeeBucket.Setup];
        var atStandard = running - buckets[OeeBucket.SlowCutting] - buckets[OeeBucket.SlowHandling];
        var earned = atStandard + buckets[OeeBeside.Gained] + buckets[OeeBeside.ScrapGained];
        var good = earned - buckets[OeeBucket.ScrapTime] - buckets[OeeBeside.ScrapGained];
        return new OeeFigures
        {
            Availability = Ratio(running, observed),
            Effectiveness = Ratio(earned, running),
            QualityRatio = Ratio(good, earned),
            Oee = Ratio(good, observed),
            UnknownShare = Ratio(buckets[OeeBucket.Unknown], buckets.Sum),
            AvailabilityLow = Ratio(running, buckets.Sum),
            AvailabilityHigh = Ratio(running + buckets[OeeBucket.Unknown], buckets.Sum),
        };
    }

    private static double Ratio(TimeSpan part, TimeSpan whole) => whole > TimeSpan.Zero ? (double)part.Ticks / whole.Ticks : double.NaN;
}
