using SawEdge.Core.Statistics;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Statistics;

/// <summary>Against Debian's python3-scipy and python3-statsmodels.</summary>
public class ClusteredCellsPeerTests
{
    // Bell and McCaffrey's matrices written out in full: what the program never builds.
    private const string WrittenOut =
        """
        def alikeness(X, y, groups):
            e = y - X @ np.linalg.lstsq(X, y, rcond=None)[0]
            pairs = sum(len(g) ** 2 for g in groups) - len(y)
            sigma2 = (e @ e) / len(y)
            alike = min(max((sum(e[g].sum() ** 2 for g in groups) - e @ e) / pairs, 0), sigma2) if pairs > 0 else 0
            return sigma2 - alike, alike

        def cr2(X, y, cluster, contrast):
            groups = [np.flatnonzero(cluster == g) for g in np.unique(cluster)]
            own, alike = alikeness(X, y, groups)
            n = len(y)
            root, cov = np.zeros(n), np.zeros((n, n))
            for g in groups:
                w = (own + alike) / (own + alike * len(g))
                root[g] = np.sqrt(w)
                cov[np.ix_(g, g)] = w * (alike + own * np.eye(len(g)))
            X, y = X * root[:, None], y * root
            bread = np.linalg.inv(X.T @ X)
            beta = bread @ X.T @ y
            e = y - X @ beta
            resid = np.eye(n) - X @ bread @ X.T
            variance, forms = 0, []
            for g in groups:
                w, v = np.linalg.eigh(resid[np.ix_(g, g)])
                adjust = v @ np.diag([1 / np.sqrt(x) if x > 1e-9 else 0 for x in w]) @ v.T
                weights = adjust @ X[g] @ bread @ contrast
                variance += (weights @ e[g]) ** 2
                forms.append(resid[:, g] @ weights)
            P = np.array(forms)
            G = P @ cov @ P.T
            return contrast @ beta, np.sqrt(variance), np.trace(G) ** 2 / (G * G).sum()

        def design(stratum, second):
            return np.column_stack([(stratum == s).astype(float) for s in np.unique(stratum)] + [second])


        """;

    [PeerFact(Python.Program, Python.Scipy)]
    public async Task Mean_OfUnequalClusters_IsThatOfTheMatricesWrittenOut()
    {
        var random = new Random(71);
        var cluster = Clusters(random, 14);
        var values = Values(random, cluster);
        var lines = await Python.RunAsync(
            WrittenOut + "show(*cr2(np.ones((len(y), 1)), y, c, np.array([1.0])))\nfrom scipy.stats import t\nvalue, se, df = cr2(np.ones((len(y), 1)), y, c, np.array([1.0]))\nshow(2 * t.sf(abs(value / se), df), value + t.ppf([0.025, 0.975], df) * se)",
            ("y", values),
            ("c", [.. cluster.Select(c => (double)c)]));

        var mean = Cells(values, cluster, new int[values.Length], new bool[values.Length]).Mean();
        Equal(lines[0], mean, 1e-9);
        Near.Equal(lines[1][0], mean.P, 1e-9, "p");
        Near.Equal(lines[1][1], mean.Interval().Low, 1e-9, "low");
        Near.Equal(lines[1][2], mean.Interval().High, 1e-9, "high");
        Assert.Equal(14, mean.Clusters);
    }

    [PeerTheory(Python.Program, Python.Scipy)]
    [InlineData(1, 10, false)]
    [InlineData(4, 20, false)]
    [InlineData(4, 12, true)]
    [InlineData(9, 40, true)]
    public async Task Difference_WithinStrata_IsThatOfTheMatricesWrittenOut(int strata, int clusters, bool crossing)
    {
        var random = new Random(72 + strata);
        var cluster = Clusters(random, clusters);
        var values = Values(random, cluster);
        var (stratum, second) = Places(random, cluster, strata, crossing);
        var lines = await Python.RunAsync(
            WrittenOut + "X = design(s, b)\nshow(*cr2(X, y, c, np.eye(X.shape[1])[-1]))",
            ("y", values),
            ("c", [.. cluster.Select(c => (double)c)]),
            ("s", [.. stratum.Select(s => (double)s)]),
            ("b", [.. second.Select(b => b ? 1.0 : 0.0)]));

        Equal(lines[0], Cells(values, cluster, stratum, second).Difference(), 1e-9);
    }

    /// <summary>Where each value is a cluster of its own, CR2 is HC2 of statsmodels, and for two samples that is Welch's standard error.</summary>
    [PeerFact(Python.Program, Python.Scipy, Python.Statsmodels)]
    public async Task Difference_OfValuesOnTheirOwn_HasTheErrorOfStatsmodelsAndOfWelch()
    {
        var random = new Random(73);
        var alone = Enumerable.Range(0, 90).ToArray();
        var values = Values(random, alone);
        var (stratum, second) = Places(random, alone, 3, true);
        var lines = await Python.RunAsync(
            """
            import statsmodels.api as sm
            from scipy.stats import ttest_ind
            X = np.column_stack([(s == k).astype(float) for k in np.unique(s)] + [b])
            fit = sm.OLS(y, X).fit(cov_type='HC2')
            show(fit.params[-1], fit.bse[-1])
            welch = ttest_ind(y[b == 1], y[b == 0], equal_var=False)
            show(y[b == 1].mean() - y[b == 0].mean(), (y[b == 1].mean() - y[b == 0].mean()) / welch.statistic)
            """,
            ("y", values),
            ("s", [.. stratum.Select(s => (double)s)]),
            ("b", [.. second.Select(b => b ? 1.0 : 0.0)]));

        Equal(lines[0], Cells(values, alone, stratum, second).Difference(), 1e-9);
        Equal(lines[1], Cells(values, alone, new int[90], second).Difference(), 1e-9);
    }

    /// <summary>With clusters of one size it is Student's test on their means, and the sandwich of statsmodels with its correction.</summary>
    [PeerFact(Python.Program, Python.Scipy, Python.Statsmodels)]
    public async Task Mean_OfEqualClusters_IsStudentsTestOnTheirMeans()
    {
        var random = new Random(74);
        var cluster = Enumerable.Range(0, 96).Select(i => i / 8).ToArray();
        var values = Values(random, cluster);
        var second = cluster.Select(c => c >= 6).ToArray();
        var lines = await Python.RunAsync(
            """
            import statsmodels.api as sm
            from scipy.stats import ttest_1samp, ttest_ind
            means = y.reshape(-1, 8).mean(axis=1)
            one = ttest_1samp(means, 0)
            interval = one.confidence_interval(0.95)
            fit = sm.OLS(y, np.ones(len(y))).fit(cov_type='cluster', cov_kwds={'groups': c.astype(int)})
            show(fit.params[0], fit.bse[0], len(means) - 1, one.pvalue, interval.low, interval.high)
            two = ttest_ind(means[6:], means[:6])
            show(means[6:].mean() - means[:6].mean(), (means[6:].mean() - means[:6].mean()) / two.statistic, len(means) - 2, two.pvalue)
            """,
            ("y", values),
            ("c", [.. cluster.Select(c => (double)c)]));

        var mean = Cells(values, cluster, new int[96], second).Mean();
        Equal(lines[0][..3], mean, 1e-9);
        Near.Equal(lines[0][3], mean.P, 1e-9, "p of the mean");
        Near.Equal(lines[0][4], mean.Interval().Low, 1e-9, "low");
        Near.Equal(lines[0][5], mean.Interval().High, 1e-9, "high");
        var difference = Cells(values, cluster, new int[96], second).Difference();
        Equal(lines[1][..3], difference, 1e-9);
        Near.Equal(lines[1][3], difference.P, 1e-9, "p of the difference");
    }

    [PeerFact(Python.Program, Python.Statsmodels)]
    public async Task Adjust_OfManyPValues_IsThatOfStatsmodels()
    {
        var random = new Random(75);
        double[] p = [.. Enumerable.Range(0, 60).Select(i => Math.Pow(random.NextDouble(), 1 + (i % 4))), 0, 1, 0.02, 0.02];
        var lines = await Python.RunAsync("from statsmodels.stats.multitest import multipletests\nshow(multipletests(p, method='fdr_bh')[1])", ("p", p));
        var adjusted = FalseDiscovery.Adjust(p);
        for (var i = 0; i < p.Length; i++)
            Near.Equal(lines[0][i], adjusted[i], 1e-12, $"{i}");
        Assert.Empty(FalseDiscovery.Adjust([]));
    }

    [PeerFact(Python.Program, Python.Statsmodels)]
    public async Task Location_OfABulkWithStrays_IsThatOfStatsmodels()
    {
        var random = new Random(76);
        double[] values = [.. Near.Normal(random, 80).Select(x => 1 + (0.2 * x)), 4, 5, 5.1, -9];
        var lines = await Python.RunAsync(
            """
            import statsmodels.robust.norms as norms
            tukey = norms.TukeyBiweight()
            for scale in (0.05, 0.2, 1):
                show(norms.estimate_location(y, scale, norm=tukey, initial=np.median(y), maxiter=500, tol=1e-15), tukey.psi((y - 1) / scale), tukey.psi_deriv((y - 1) / scale))
            """,
            ("y", values));
        foreach (var (line, scale) in lines.Zip([0.05, 0.2, 1]))
        {
            Near.Equal(line[0], Biweight.Location(values, scale), 1e-9, $"location, scale {scale}");
            for (var i = 0; i < values.Length; i++)
            {
                Near.Equal(line[1 + i], Biweight.Influence((values[i] - 1) / scale), 1e-12, $"influence {i}");
                Near.Equal(line[1 + values.Length + i], Biweight.Slope((values[i] - 1) / scale), 1e-12, $"slope {i}");
            }
        }
    }

    private static void Equal(double[] expected, ClusteredEstimate actual, double share)
    {
        Near.Equal(expected[0], actual.Value, share, "value");
        Near.Equal(expected[1], actual.StandardError, share, "standard error");
        if (expected.Length > 2)
            Near.Equal(expected[2], actual.Freedom, share, "degrees of freedom");
    }

    private static ClusteredCells Cells(double[] values, int[] cluster, int[] stratum, bool[] second)
    {
        var cells = new ClusteredCells();
        for (var i = 0; i < values.Length; i++)
            cells.Add(stratum[i], second[i], cluster[i], values[i]);
        return cells;
    }

    // Clusters of 1 to 15 values.
    private static int[] Clusters(Random random, int count) => [.. Enumerable.Range(0, count).SelectMany(c => Enumerable.Repeat(c, 1 + random.Next(15)))];

    private static double[] Values(Random random, int[] cluster)
    {
        var shifts = Near.Normal(random, cluster.Max() + 1);
        return [.. Near.Normal(random, cluster.Length).Zip(cluster, (x, c) => 0.05 + (0.1 * x) + (0.07 * shifts[c]))];
    }

    // A cluster lies in one stratum, or crosses them; always on one side.
    private static (int[] Stratum, bool[] Second) Places(Random random, int[] cluster, int strata, bool crossing) =>
        ([.. cluster.Select(c => crossing ? random.Next(strata) : c / 2 % strata)], [.. cluster.Select(c => c % 2 == 1)]);
}
