using MathNet.Numerics.Distributions;
using SawEdge.Core.Comparison;
using SawEdge.Core.Tests.Statistics;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Comparison;

/// <summary>From cuts to the sentence's numbers, against Debian's python3-statsmodels and python3-scipy on the same cuts.</summary>
public class CutComparisonPeerTests
{
    // Huber's pseudo-values from statsmodels' own biweight.
    private const string Tame =
        """
        import statsmodels.robust.norms as norms
        from statsmodels.robust.scale import mad
        from scipy.stats import t, ttest_ind, ttest_1samp, mannwhitneyu
        tukey = norms.TukeyBiweight()
        def tame(parts):
            scale = mad(np.concatenate([p - np.median(p) for p in parts]), center=np.median)
            at = [norms.estimate_location(p, scale, norm=tukey, initial=np.median(p), maxiter=500, tol=1e-15) for p in parts]
            slope = np.concatenate([tukey.psi_deriv((p - a) / scale) for p, a in zip(parts, at)]).mean()
            return [a + scale / slope * tukey.psi((p - a) / scale) for p, a in zip(parts, at)]


        """;

    /// <summary>With runs of one length, the interval is Student's on the means of the runs, after the odd cuts were tamed.</summary>
    [PeerFact(Python.Program, Python.Scipy, Python.Statsmodels)]
    public async Task Compare_OfEqualRuns_IsStudentsTestOnTheRunsOfTamedCuts()
    {
        var random = new Random(81);
        var (first, second) = (Cuts(random, 9, 12, 0), Cuts(random, 9, 12, -0.06));
        var comparison = new CutComparison(byBlade: false);
        var kind = new CutKind("north", "1045", "round", "");
        for (var i = 0; i < first.Length; i++)
        {
            comparison.Take(kind, false, i / 12, 0, first[i]);
            comparison.Take(kind, true, 9 + (i / 12), 1, second[i]);
        }

        var lines = await Python.RunAsync(
            Tame + """
            a, b = tame([first, second])
            a, b = a.reshape(-1, 12).mean(axis=1), b.reshape(-1, 12).mean(axis=1)
            test = ttest_ind(a, b)
            se = (a.mean() - b.mean()) / test.statistic
            reach = t.ppf(0.975, 16) * se
            show(np.exp(a.mean() - b.mean()), np.exp(a.mean() - b.mean() - reach), np.exp(a.mean() - b.mean() + reach), test.pvalue)
            show(mannwhitneyu(first.reshape(-1, 12).mean(axis=1), second.reshape(-1, 12).mean(axis=1)).pvalue)
            """,
            ("first", first),
            ("second", second));

        var compared = comparison.Close(20);
        Equal(lines[0][..3], compared.Rate!.Value);
        Near.Equal(lines[0][3], compared.P!.Value, 1e-9, "p");
        Assert.Equal(new SideCount(108, 9, 1), compared.Second);
        // A test by ranks alone, on the raw means of the runs, sees the same.
        Assert.True(lines[1][0] < 0.05 && compared.P < 0.05);
    }

    [PeerFact(Python.Program, Python.Scipy, Python.Statsmodels)]
    public async Task Standards_OfEqualRuns_IsStudentsTestOnTheRunsOfTamedCuts_AdjustedForTheirNumber()
    {
        var random = new Random(82);
        double[][] kinds = [Cuts(random, 8, 10, 0.05), Cuts(random, 8, 10, 0.01), Cuts(random, 8, 10, 0.03), Cuts(random, 8, 10, 0)];
        var review = new StandardsReview();
        foreach (var (number, cuts) in kinds.Index())
        {
            foreach (var (i, cut) in cuts.Index())
                review.Take(new CutKind("north", $"m{number}", "round", ""), (8 * number) + (i / 10), cut);
        }

        var lines = await Python.RunAsync(
            Tame + """
            from statsmodels.stats.multitest import multipletests
            p = []
            for x in (k0, k1, k2, k3):
                test = ttest_1samp(tame([x])[0].reshape(-1, 10).mean(axis=1), 0)
                interval = test.confidence_interval(0.95)
                p.append(test.pvalue)
                show(np.exp((interval.low + interval.high) / 2), np.exp(interval.low), np.exp(interval.high), np.exp(np.median(x)), mad(x, center=np.median))
            show(multipletests(p, method='fdr_bh')[1])
            """,
            [.. kinds.Index().Select(kind => ($"k{kind.Index}", kind.Item))]);

        var (said, materials) = review.Close(20);
        for (var i = 0; i < kinds.Length; i++)
        {
            Equal(lines[i][..3], said[i].Typical!.Value);
            Near.Equal(lines[i][3], said[i].Median, 1e-9, "median");
            Near.Equal(lines[i][4], said[i].Spread, 1e-9, "spread");
            Near.Equal(lines[4][i], said[i].P!.Value, 1e-9, "adjusted p");
            Near.Equal(lines[4][i], materials[i].P, 1e-9, "adjusted p of the material");
        }
    }

    private static void Equal(double[] expected, FactorInterval actual)
    {
        Near.Equal(expected[0], actual.Value, 1e-9, "value");
        Near.Equal(expected[1], actual.Low, 1e-9, "low");
        Near.Equal(expected[2], actual.High, 1e-9, "high");
    }

    private static double[] Cuts(Random random, int runs, int cuts, double middle) =>
        [.. Enumerable.Range(0, runs).SelectMany(_ =>
        {
            var shift = 0.03 * Normal.Sample(random, 0, 1);
            return Enumerable.Range(0, cuts).Select(i => middle + shift + (0.05 * Normal.Sample(random, 0, 1)) + (random.Next(40) == 0 ? 0.8 : 0));
        })];
}
