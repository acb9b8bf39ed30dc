namespace SawEdge.Core.Cutting;

/// <summary>What a number of pieces takes.</summary>
public sealed record QuantityPlan
{
    /// <summary>Pieces wanted.</summary>
    public required int Pieces { get; init; }

    /// <summary>Cuts that part off pieces.</summary>
    public required int PartCuts { get; init; }

    /// <summary>Trim cuts, one a bar where bars are trimmed.</summary>
    public required int TrimCuts { get; init; }

    /// <summary>Bars (of a bundle: bundles of bars); null where the length of the bar is not stated.</summary>
    public int? Bars { get; init; }

    /// <summary>Time from contact to breakthrough over all cuts, s. While a blade is broken in, each cut takes less than the one before.</summary>
    public required double CutSeconds { get; init; }

    /// <summary>Cutting and handling, without the loading of bars, s; null where the handling time is not known.</summary>
    public double? TotalSeconds { get; init; }

    /// <summary>Plans a number of pieces.</summary>
    /// <param name="pieces">Pieces wanted, above zero.</param>
    /// <param name="question">The cut.</param>
    /// <param name="yield">What a bar yields, at least one part; null where the length of the bar is not stated.</param>
    public static QuantityPlan For(int pieces, EstimateQuestion question, BarYield? yield)
    {
        var job = question.Job;
        var perCut = job.Section.PiecesPerCut;
        var lengths = (pieces / perCut) + (pieces % perCut > 0 ? 1 : 0);
        var (partCuts, trims, bars) = (lengths, 0, (int?)null);
        if (yield is { } bar)
        {
            var trim = question.TrimMm > 0 ? 1 : 0;
            var (full, rest) = Math.DivRem(lengths, bar.Parts);
            bars = full + (rest > 0 ? 1 : 0);
            partCuts = (full * (bar.Cuts - trim)) + rest;
            trims = bars.Value * trim;
        }

        var cutting = Seconds(question, (long)partCuts + trims);
        var handling = Handling.Times(job, question.Machine, out _)?.TotalS;
        var trimHandling = trims == 0 ? 0 : Handling.Times(job with { PartLengthMm = question.TrimMm }, question.Machine, out _)?.TotalS;
        return new QuantityPlan
        {
            Pieces = pieces,
            PartCuts = partCuts,
            TrimCuts = trims,
            Bars = bars,
            CutSeconds = cutting,
            TotalSeconds = cutting + (partCuts * handling) + (trims * trimHandling),
        };
    }

    private static double Seconds(EstimateQuestion question, long cuts)
    {
        var seconds = 0.0;
        var area = question.BladeAreaCm2;
        var brokenIn = question.Job.Factors["break_in_area_cm2"].Value;
        for (; cuts > 0 && area < brokenIn; cuts--, area += question.Job.Section.AreaCm2)
            seconds += CuttingModel.Standard(question.Job, question.Machine, question.BladeSpeedMMin, area).CutSeconds;
        return cuts == 0 ? seconds : seconds + (cuts * CuttingModel.Standard(question.Job, question.Machine, question.BladeSpeedMMin, area).CutSeconds);
    }
}
