using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Load;

/// <summary>What is expected of a cut that is not over yet.</summary>
internal sealed partial class LoadScorer
{
    // Half of a band that holds 95 of 100, in standard deviations.
    private const double Reach = 1.96;

    /// <summary>
    /// The load that a next cut of a known section is expected to take along its depth. It asks what was learned and changes nothing of it: with
    /// and without the question the saw learns the same.
    /// </summary>
    /// <param name="curve">How the cut should run, at the pace that is expected of it.</param>
    /// <param name="paceSpread">Standard deviation of the logarithm of its time.</param>
    public LoadOutlook Outlook(CutCurve curve, double paceSpread)
    {
        var expected = CutResiduals.Expected(curve, _machine.DriveEfficiency);
        var kind = KindOf(curve, expected.Basis);
        var (level, levelSpread) = _levelTrend.Peek(FamilyOf(curve), kind);
        Span<double> mean = stackalloc double[DepthProfile.DefaultBins];
        Span<double> spread = stackalloc double[DepthProfile.DefaultBins];
        _shapes.Peek(kind, expected, mean, spread);

        // Power goes with feed to the power of 1 - mc (Kienzle): what the pace is off by is missing from the load or added to it.
        var ofPace = (1 - curve.Material.Mc.Value) * paceSpread;
        var bins = new ExpectedLoad[DepthProfile.DefaultBins];
        for (var j = 0; j < bins.Length; j++)
        {
            var reach = Reach * Math.Sqrt((spread[j] * spread[j]) + (levelSpread * levelSpread) + (ofPace * ofPace));
            var middle = expected.ModelKw[j] * Math.Exp(level + mean[j]);
            bins[j] = new ExpectedLoad(middle, middle * Math.Exp(-reach), middle * Math.Exp(reach));
        }

        return new LoadOutlook(curve.Section.HeightMm, bins);
    }

    private static string FamilyOf(CutCurve curve) => $"{curve.Material.Name}|{curve.Section.Family}|{curve.Blade.TypeName}";

    private static string KindOf(CutCurve curve, ResidualBasis basis) => $"{curve.Material.Name}|{curve.Section.Notation}|{basis}";
}
