using SawEdge.Core.Oee;
using SawEdge.Gateway.Accounts;

namespace SawEdge.Gateway.Api;

/// <summary>The figures of one subject in one span as the API shows them; times in seconds, shares as parts of 1.</summary>
internal sealed record OeeView(
    string Subject,
    DateTimeOffset From,
    DateTimeOffset To,
    string Label,
    DateOnly Date,
    double PlannedBusyTimeS,
    FiguresView Figures,
    ElementsView ElementsS,
    BucketsView BucketsS,
    BesideView BesideS,
    CountsView Counts,
    IReadOnlyList<StopTimeView> Stops,
    CounterView? Counter)
{
    /// <summary>Of an item.</summary>
    public static OeeView Of(OeeItem item) => new(
        item.Subject,
        item.Time.From,
        item.Time.To,
        item.Label,
        item.Date,
        item.Buckets.PlannedBusyTime.TotalSeconds,
        FiguresView.Of(item.Buckets.Figures),
        ElementsView.Of(item.Buckets),
        BucketsView.Of(item.Buckets),
        BesideView.Of(item.Buckets),
        CountsView.Of(item.Buckets),
        [.. item.Buckets.Stops.Select(stop => new StopTimeView(stop.Class.ToName(), stop.Reason, stop.Time.TotalSeconds))],
        item.Counter is { } counter ? CounterView.Of(counter) : null);
}

/// <summary>The figures; null where there is nothing to divide by.</summary>
internal sealed record FiguresView(double Availability, double Effectiveness, double QualityRatio, double Oee, double UnknownShare, double AvailabilityLow, double AvailabilityHigh)
{
    public static FiguresView Of(OeeFigures figures) =>
        new(figures.Availability, figures.Effectiveness, figures.QualityRatio, figures.Oee, figures.UnknownShare, figures.AvailabilityLow, figures.AvailabilityHigh);
}

/// <summary>What the figures are made of: availability is actual production time over observed, effectiveness planned run time over actual production time, the quality ratio good over planned run time, OEE good run time over observed.</summary>
internal sealed record ElementsView(double Observed, double ActualProductionTime, double PlannedRunTime, double GoodRunTime)
{
    public static ElementsView Of(OeeBuckets buckets) => new(buckets.Observed.TotalSeconds, buckets.ActualProductionTime.TotalSeconds, buckets.PlannedRunTime.TotalSeconds, buckets.GoodRunTime.TotalSeconds);
}

/// <summary>The buckets; they sum to the planned busy time.</summary>
internal sealed record BucketsView(double CuttingAtStandard, double SlowCutting, double Handling, double SlowHandling, double ShortStops, double StopsByReason, double Setup, double ScrapTime, double Unknown)
{
    public static BucketsView Of(OeeBuckets buckets)
    {
        double Seconds(OeeBucket bucket) => buckets[bucket].TotalSeconds;
        return new BucketsView(
            Seconds(OeeBucket.CuttingAtStandard), Seconds(OeeBucket.SlowCutting), Seconds(OeeBucket.Handling), Seconds(OeeBucket.SlowHandling), Seconds(OeeBucket.ShortStops),
            Seconds(OeeBucket.StopsByReason), Seconds(OeeBucket.Setup), Seconds(OeeBucket.ScrapTime), Seconds(OeeBucket.Unknown));
    }
}

/// <summary>What is stated beside the buckets.</summary>
internal sealed record BesideView(double Gained, double ScrapGained, double WithoutStandard, double Lost, double Delay, double Down)
{
    public static BesideView Of(OeeBuckets buckets)
    {
        double Seconds(OeeBeside beside) => buckets[beside].TotalSeconds;
        return new BesideView(Seconds(OeeBeside.Gained), Seconds(OeeBeside.ScrapGained), Seconds(OeeBeside.WithoutStandard), Seconds(OeeBeside.Lost), Seconds(OeeBeside.Delay), Seconds(OeeBeside.Down));
    }
}

/// <summary>What is counted.</summary>
internal sealed record CountsView(long Parts, long Scrap, long PartsOutside, long Uncertain, long WithoutStandard, long Trims, long Lost)
{
    public static CountsView Of(OeeBuckets buckets) => new(
        buckets[OeeCount.Parts], buckets[OeeCount.Scrap], buckets[OeeCount.PartsOutside], buckets[OeeCount.Uncertain], buckets[OeeCount.WithoutStandard], buckets[OeeCount.Trims], buckets[OeeCount.Lost]);
}

/// <summary>How long a saw stood for one reason.</summary>
internal sealed record StopTimeView(string Class, string Reason, double TimeS);

/// <summary>The parts against the controller's own counter.</summary>
internal sealed record CounterView(long Parts, long? Counted, long? Difference, long Unseen, long NotCounted, long Resets, long Rollovers, bool DoesNotCount)
{
    public static CounterView Of(CounterSum sum) => new(sum.Parts, sum.Readings > 1 ? sum.Counted : null, sum.Difference, sum.Unseen, sum.NotCounted, sum.Resets, sum.Rollovers, sum.DoesNotCount);
}
