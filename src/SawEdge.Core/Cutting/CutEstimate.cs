namespace SawEdge.Core.Cutting;

/// <summary>What an estimate is asked for: a job on a saw, and what is known beyond them.</summary>
public sealed record EstimateQuestion
{
    /// <summary>The job.</summary>
    public required CutJob Job { get; init; }

    /// <summary>The saw.</summary>
    public required SawMachine Machine { get; init; }

    /// <summary>Blade speed in use, m/min; null: the recommended one.</summary>
    public double? BladeSpeedMMin { get; init; }

    /// <summary>Area that the blade has cut so far, cm2; null counts as broken in.</summary>
    public double? BladeAreaCm2 { get; init; }

    /// <summary>Motor power with the blade running in air, kW; null where it is not known.</summary>
    public double? IdlePowerKw { get; init; }

    /// <summary>Length of the bar, mm; null where it is not stated.</summary>
    public double? BarLengthMm { get; init; }

    /// <summary>Length of the trim cut at the bar's end, mm; 0 for none.</summary>
    public double TrimMm { get; init; }

    /// <summary>Least length that the vise must hold at the end of a bar, mm; 0 where the last part may be what is left.</summary>
    public double HoldMm { get; init; }
}

/// <summary>
/// Everything a cut should take, beforehand: time, feed, teeth and power of a cut, what a bar yields and what a quantity takes.
/// Pure: the same question gives the same answer.
/// </summary>
public sealed record CutEstimate
{
    /// <summary>The standard time and the factors of the cutting rate.</summary>
    public required StandardTime Standard { get; init; }

    /// <summary>The factors whose product is the recommended band speed.</summary>
    public required IReadOnlyList<RateFactor> SpeedFactors { get; init; }

    /// <summary>Recommended band speed, m/min.</summary>
    public required double RecommendedSpeedMMin { get; init; }

    /// <summary>Area of cut divided by cut time, cm2/min.</summary>
    public required double MeanRateCm2Min { get; init; }

    /// <summary>The parts of the handling time; null where one is not known (<see cref="StandardTime.MissingForCycle"/>).</summary>
    public HandlingTimes? Handling { get; init; }

    /// <summary>Where the section is widest and narrowest.</summary>
    public required WidthRange Width { get; init; }

    /// <summary>Mean feed per tooth over the time of the cut, mm.</summary>
    public required double MeanFeedMm { get; init; }

    /// <summary>Least feed per tooth, mm: at the widest place.</summary>
    public required double LeastFeedMm { get; init; }

    /// <summary>Greatest feed per tooth, mm: at the narrowest place.</summary>
    public required double GreatestFeedMm { get; init; }

    /// <summary>Teeth in the cut, mean over the depth.</summary>
    public required double MeanTeeth { get; init; }

    /// <summary>Teeth in the cut at the widest place.</summary>
    public required double MostTeeth { get; init; }

    /// <summary>Greatest motor power for cutting alone, kW: at the widest place, power at the teeth over the drive's efficiency.</summary>
    public required double PeakCuttingKw { get; init; }

    /// <summary>Mean motor power for cutting alone over the time of the cut, kW.</summary>
    public required double MeanCuttingKw { get; init; }

    /// <summary>What a bar yields; null where the length of the bar or of the part is not stated.</summary>
    public BarYield? Bar { get; init; }

    /// <summary>Kerf along the bar, mm: of a mitre cut kerf / cos(angle).</summary>
    public required double KerfAlongBarMm { get; init; }

    /// <summary>What the pieces of the job take; null where their number is not stated, or a bar yields none.</summary>
    public QuantityPlan? Quantity { get; init; }

    /// <summary>Answers a question.</summary>
    public static CutEstimate Of(EstimateQuestion question)
    {
        var (job, machine) = (question.Job, question.Machine);
        var standard = CuttingModel.Standard(job, machine, question.BladeSpeedMMin, question.BladeAreaCm2);
        var curve = standard.Curve;
        var width = WidthRange.Of(job.Section);
        var kerf = curve.Blade.KerfMm / Math.Cos(job.Section.MitreDegrees * Math.PI / 180);
        BarYield? bar = question.BarLengthMm is { } length && job.PartLengthMm is { } part ? BarPlan.Parts(length, part, kerf, question.TrimMm, question.HoldMm) : null;
        return new CutEstimate
        {
            Standard = standard,
            SpeedFactors = CuttingModel.SpeedFactors(job, curve.Blade),
            RecommendedSpeedMMin = CuttingModel.RecommendedSpeedMMin(job, curve.Blade),
            MeanRateCm2Min = job.Section.AreaCm2 / curve.CutSeconds * 60,
            Handling = Cutting.Handling.Times(job, machine, out _),
            Width = width,
            MeanFeedMm = CutPower.FeedPerToothMm(job.Section.HeightMm / curve.CutSeconds * 60, curve.Blade.PitchMm, curve.BladeSpeedMMin),
            LeastFeedMm = curve.FeedPerToothMm(width.WidestAtMm),
            GreatestFeedMm = curve.FeedPerToothMm(width.NarrowestAtMm),
            MeanTeeth = ToothRule.MeanTeeth(job.Section, curve.Blade),
            MostTeeth = width.WidestMm / curve.Blade.PitchMm,

            // Power rises with the width: as width^mc where the rate governs, with the width itself where the descent is capped.
            PeakCuttingKw = curve.NetPowerKw(width.WidestAtMm) / machine.DriveEfficiency,
            MeanCuttingKw = curve.NetEnergyKj() / curve.CutSeconds / machine.DriveEfficiency,
            Bar = bar,
            KerfAlongBarMm = kerf,
            Quantity = job.Pieces is { } pieces && bar is not { Parts: 0 } ? QuantityPlan.For(pieces, question, bar) : null,
        };
    }
}
