using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Sections;

namespace SawEdge.Core.Load;

/// <summary>What the loads of a cut are held against.</summary>
internal enum ResidualBasis : byte
{
    /// <summary>Nothing: no load, or no profile.</summary>
    None,

    /// <summary>The load that earlier cuts of the same job showed: the section is not known.</summary>
    Job,

    /// <summary>The section as a whole: its area is known, where the blade was in it is not.</summary>
    Section,

    /// <summary>The section at each depth.</summary>
    Depth,
}

/// <summary>
/// One cut freed of what the cutting model explains, bin by bin: rho = ln(u / model u), where u is the net energy per volume
/// removed in the bin and the model's is kc11 * h^-mc (Kienzle) at the feed per tooth that was observed there. Without a
/// section rho is ln(net load in kW): what is usual of it is then learned for the job.
/// </summary>
internal sealed class CutResiduals
{
    /// <summary>A bin whose descent is slower than its surroundings by this factor held the head.</summary>
    private const double HoldFactor = 4;

    /// <summary>Net loads below this share of the cut's mean say nothing about energy.</summary>
    private const double LeastShare = 0.02;

    /// <summary>Bins at the end of a cut where breakthrough is near: it is interpolated, and the last width is gone in no time.</summary>
    private const int EndBins = 3;

    /// <summary>A load that changes by this much in ln from one bin to the next has jumped.</summary>
    private const double Jump = 0.3;

    /// <summary>How long a transducer may need to follow a jump, s; common practice, no source.</summary>
    private const double LagSeconds = 2;

    /// <summary>The last stretch of a cut that says nothing about its load, s.</summary>
    private const double EndSeconds = 1;

    private CutResiduals(int bins)
    {
        Rho = new double[bins];
        Weight = new double[bins];
        ModelKw = new double[bins];
        IsEdge = new bool[bins];
        Array.Fill(Rho, double.NaN);
        Array.Fill(ModelKw, double.NaN);
    }

    /// <summary>What the loads are held against.</summary>
    public ResidualBasis Basis { get; private init; }

    /// <summary>Whether the bins are shares of depth.</summary>
    public bool ByDepth { get; private init; }

    /// <summary>ln(u / model u), or ln(net load in kW); NaN where a bin says nothing.</summary>
    public double[] Rho { get; }

    /// <summary>How much a bin counts: the energy that the model gives it, or its time.</summary>
    public double[] Weight { get; }

    /// <summary>Net load for rho = 0, kW.</summary>
    public double[] ModelKw { get; }

    /// <summary>Whether the load jumps at a bin or just before it, as at a cut's ends and a tube's walls: a transducer that lags blurs it.</summary>
    public bool[] IsEdge { get; }

    /// <summary>ln(u / model u) of the cut as a whole, where it is known apart from the bins; otherwise NaN.</summary>
    public double Whole { get; private set; } = double.NaN;

    /// <summary>Net energy per volume removed, J/mm3 at the blade; NaN without a section.</summary>
    public double SpecificEnergyJMm3 { get; private set; } = double.NaN;

    /// <summary>The model's, J/mm3, at the mean feed per tooth.</summary>
    public double ModelEnergyJMm3 { get; private set; } = double.NaN;

    /// <summary>Computes the residuals of a cut.</summary>
    /// <param name="cut">The cut, with a profile.</param>
    /// <param name="idleKw">Load with the blade in air, kW.</param>
    /// <param name="curve">What was cut and with what; null where the job is not known or does not fit.</param>
    /// <param name="driveEfficiency">Share of motor power that reaches the blade.</param>
    public static CutResiduals Of(Cut cut, double idleKw, CutCurve? curve, double driveEfficiency)
    {
        if (cut.Profile is not { } profile || double.IsNaN(idleKw) || !(cut.MeanLoadKw > idleKw))
            return new CutResiduals(0);
        var byDepth = profile.Basis == ProfileBasis.Depth;
        var basis = curve is null ? ResidualBasis.Job : byDepth ? ResidualBasis.Depth : ResidualBasis.Section;
        var residuals = new CutResiduals(profile.Seconds.Count) { Basis = basis, ByDepth = byDepth };
        var least = LeastShare * (cut.MeanLoadKw - idleKw);
        if (basis == ResidualBasis.Depth)
            residuals.ByModel(profile, idleKw, least, curve!, driveEfficiency);
        else
            residuals.ByLoad(profile, idleKw, least);
        if (curve is not null)
            residuals.AsAWhole(cut, curve, driveEfficiency);
        residuals.MarkEdges(profile);
        residuals.LeaveOutEnds(profile);
        return residuals;
    }

    /// <summary>A cut that runs along its curve and of which no load was seen: what a normal one is expected to take, bin by bin.</summary>
    /// <param name="curve">What is cut and with what.</param>
    /// <param name="driveEfficiency">Share of motor power that reaches the blade.</param>
    public static CutResiduals Expected(CutCurve curve, double driveEfficiency)
    {
        const int Bins = DepthProfile.DefaultBins;
        var (height, from) = (curve.Section.HeightMm, 0.0);
        var (seconds, none) = (new float[Bins], new float[Bins]);
        for (var j = 0; j < Bins; j++)
        {
            var to = curve.TimeToDepthS((j + 1) * height / Bins);
            seconds[j] = (float)(to - from);
            from = to;
        }

        Array.Fill(none, float.NaN);
        var profile = new DepthProfile(ProfileBasis.Depth, height, seconds, none, none);
        var residuals = new CutResiduals(Bins) { Basis = ResidualBasis.Depth, ByDepth = true };
        residuals.ByModel(profile, 0, 0, curve, driveEfficiency);
        residuals.MarkEdges(profile);
        return residuals;
    }

    // Contact and breakthrough are interpolated, and the transducer still falls while the last width is cut.
    private void LeaveOutEnds(DepthProfile profile)
    {
        var (bins, left) = (Rho.Length, 0.0);
        Rho[0] = double.NaN;
        for (var j = bins - 1; j > 0 && (j == bins - 1 || left < EndSeconds); j--)
        {
            Rho[j] = double.NaN;
            left += profile.Seconds[j];
        }
    }

    private void MarkEdges(DepthProfile profile)
    {
        var bins = Rho.Length;
        Edge(0, profile);
        for (var j = Math.Max(0, bins - EndBins); j < bins; j++)
            IsEdge[j] = true;
        for (var j = 1; j < bins; j++)
        {
            // Without a section the load itself shows where the width must jump.
            var jump = Basis == ResidualBasis.Depth ? Math.Log(ModelKw[j] / ModelKw[j - 1]) : Rho[j] - Rho[j - 1];
            if (!(Math.Abs(jump) < Jump))
                Edge(j, profile);
        }
    }

    private void Edge(int bin, DepthProfile profile)
    {
        if (bin > 0)
            IsEdge[bin - 1] = true;
        var lag = 0.0;
        for (var j = bin; j < IsEdge.Length && (j < bin + 2 || lag < LagSeconds); j++)
        {
            IsEdge[j] = true;
            lag += profile.Seconds[j];
        }
    }

    private void ByLoad(DepthProfile profile, double idleKw, double least)
    {
        for (var j = 0; j < Rho.Length; j++)
        {
            var net = profile.MeanLoadKw[j] - idleKw;
            ModelKw[j] = 1;
            if (!(net > least) || !(profile.Seconds[j] > 0))
                continue;
            Rho[j] = Math.Log(net);
            Weight[j] = profile.Seconds[j];
        }
    }

    private void ByModel(DepthProfile profile, double idleKw, double least, CutCurve curve, double efficiency)
    {
        var bins = Rho.Length;
        var height = curve.Section.HeightMm;

        // A full cut runs the section's whole height, whatever the head reads at its ends; one that stopped short does not.
        var reached = Math.Abs(profile.DepthMm - height) <= SectionFit.ToleranceMm(height) ? height : Math.Min(profile.DepthMm, height);
        var step = reached / bins;
        Span<double> running = stackalloc double[bins];
        RunningSeconds(profile, running);
        for (var j = 0; j < bins; j++)
        {
            var areaCm2 = curve.Section.AreaBetweenCm2(j * step, (j + 1) * step);
            var net = profile.MeanLoadKw[j] - idleKw;
            if (!(areaCm2 > 0) || !(running[j] > 0))
                continue;
            var descent = step / running[j] * 60;
            var speed = profile.MeanBladeSpeedMMin[j] > 0 ? profile.MeanBladeSpeedMMin[j] : curve.BladeSpeedMMin;
            var energy = curve.Material.SpecificForceNMm2(CutPower.FeedPerToothMm(descent, curve.Blade.PitchMm, speed)) / 1000;
            var volumeMm3 = areaCm2 * 100 * curve.Blade.KerfMm;
            ModelKw[j] = energy * volumeMm3 / (1000 * efficiency * running[j]);
            if (!(net > least))
                continue;
            Rho[j] = Math.Log(net * profile.Seconds[j] / (ModelKw[j] * running[j]));
            Weight[j] = energy * volumeMm3;
        }
    }

    // The time in which the head moved: a bin in which it was held takes the pace of those around it.
    private static void RunningSeconds(DepthProfile profile, Span<double> running)
    {
        for (var j = 0; j < running.Length; j++)
        {
            double around = 0;
            var count = 0;
            for (var i = Math.Max(0, j - 3); i <= Math.Min(running.Length - 1, j + 3); i++)
            {
                if (i == j)
                    continue;
                around += profile.Seconds[i];
                count++;
            }

            around /= count;
            running[j] = profile.Seconds[j] > HoldFactor * around ? around : profile.Seconds[j];
        }
    }

    private void AsAWhole(Cut cut, CutCurve curve, double efficiency)
    {
        var seconds = (cut.CutEndedAt - cut.CutStartedAt)?.TotalSeconds - cut.HoldSeconds ?? double.NaN;
        var depth = double.IsNaN(cut.DepthMm) || cut.Outcome != CutOutcome.Partial ? curve.Section.HeightMm : cut.DepthMm;
        var areaCm2 = curve.Section.AreaBetweenCm2(0, depth);
        if (!(seconds > 0) || !(cut.EnergyKj > 0) || !(areaCm2 > 0))
            return;
        var speed = cut.MeanBladeSpeedMMin > 0 ? cut.MeanBladeSpeedMMin : curve.BladeSpeedMMin;
        var feed = CutPower.FeedPerToothMm(depth / seconds * 60, curve.Blade.PitchMm, speed);
        SpecificEnergyJMm3 = cut.EnergyKj * efficiency * 10 / (areaCm2 * curve.Blade.KerfMm);
        ModelEnergyJMm3 = curve.Material.SpecificForceNMm2(feed) / 1000;
        Whole = Math.Log(SpecificEnergyJMm3 / ModelEnergyJMm3);
    }
}

/// <summary>Whether a section fits what was seen of a cut.</summary>
internal static class SectionFit
{
    /// <summary>By how much the head's travel in the stock may differ from the section's height, mm: 5 %, 3 mm at least; judgement, no source.</summary>
    public static double ToleranceMm(double heightMm) => Math.Max(3, 0.05 * heightMm);

    /// <summary>Whether a full cut's travel fits a section's height; true where the travel is not known.</summary>
    public static bool Fits(Cut cut, Section section) =>
        double.IsNaN(cut.DepthMm) || (cut.Outcome == CutOutcome.Partial
            ? cut.DepthMm <= section.HeightMm + ToleranceMm(section.HeightMm)
            : Math.Abs(cut.DepthMm - section.HeightMm) <= ToleranceMm(section.HeightMm));
}
