using SawEdge.Core.Statistics;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Statistics;

/// <summary>Against Debian's python3-scipy.</summary>
public class GeneralizedParetoPeerTests
{
    [PeerFact(Python.Program, Python.Scipy)]
    public async Task SurvivalAndQuantile_AreThoseOfScipy()
    {
        double[] shapes = [-0.5, -0.2, -1e-6, 0, 1e-12, 1e-4, 0.1, 0.5, 1];
        double[] excesses = [0, 1e-9, 0.01, 0.5, 1, 3, 3.9, 10, 100, 1e6];
        double[] shares = [1e-12, 1e-5, 0.01, 0.3, 0.999];
        var lines = await Python.RunAsync(
            """
            from scipy.stats import genpareto
            for c in shapes:
                show(genpareto.logsf(x, c, scale=2), genpareto.sf(x, c, scale=2), genpareto.isf(p, c, scale=2))
            """,
            ("shapes", shapes),
            ("x", excesses),
            ("p", shares));
        for (var i = 0; i < shapes.Length; i++)
        {
            var distribution = new GeneralizedPareto(2, shapes[i]);
            for (var j = 0; j < excesses.Length; j++)
            {
                Near.Equal(lines[i][j], distribution.LogSurvival(excesses[j]), 1e-11, $"log survival, shape {shapes[i]}, {excesses[j]}");
                Near.Equal(lines[i][excesses.Length + j], distribution.Survival(excesses[j]), 1e-11, $"survival, shape {shapes[i]}, {excesses[j]}");
            }

            // scipy takes 1 - p on the way and loses digits of small p.
            for (var j = 0; j < shares.Length; j++)
                Near.Equal(lines[i][(2 * excesses.Length) + j], distribution.Quantile(shares[j]), shares[j] < 1e-6 ? 1e-3 : 1e-9, $"quantile, shape {shapes[i]}, {shares[j]}");
        }
    }

    /// <summary>genpareto.fit, made to look for the optimum to the last digits.</summary>
    [PeerFact(Python.Program, Python.Scipy)]
    public async Task Fit_IsThatOfScipy()
    {
        var samples = Samples(double.PositiveInfinity);
        var lines = await Python.RunAsync(
            "from scipy.stats import genpareto\nfrom scipy.optimize import fmin\n"
                + "tight = lambda f, start, args=(), disp=0: fmin(f, start, args=args, disp=0, xtol=1e-10, ftol=1e-12, maxiter=5000, maxfun=5000)\n"
                + string.Join('\n', samples.Select((_, i) => $"c, loc, scale = genpareto.fit(x{i}, floc=0, optimizer=tight)\nshow(scale, c)")),
            [.. samples.Select((s, i) => ($"x{i}", s.Sample))]);
        for (var i = 0; i < samples.Count; i++)
        {
            var fit = GeneralizedPareto.Fit(samples[i].Sample);
            Near.Equal(lines[i][0], fit.Scale, 1e-5, $"scale {i}");
            Near.Equal(lines[i][1], fit.Shape, 1e-5, $"shape {i}");
        }
    }

    /// <summary>scipy.optimize on the likelihood of truncated excesses written down from scipy's own density and distribution function, with and without the prior.</summary>
    [PeerFact(Python.Program, Python.Scipy)]
    public async Task Fit_OfTruncatedExcesses_IsTheOptimumThatScipyFinds()
    {
        var samples = Samples(0.01);
        var script = new System.Text.StringBuilder(
            """
            from scipy.stats import genpareto
            from scipy.optimize import minimize

            def fit(x, t, m, sd):
                def loss(q):
                    scale, c = np.exp(q[0]), q[1]
                    with np.errstate(all='ignore'):
                        value = -(genpareto.logpdf(x, c, scale=scale).sum() - len(x) * np.log(genpareto.cdf(t, c, scale=scale))) + (c - m) ** 2 / (2 * sd ** 2)
                    return value if np.isfinite(value) else 1e12
                best = min((minimize(loss, (np.log(x.mean()), c), method='Nelder-Mead', options=dict(xatol=1e-8, fatol=1e-11, maxiter=20000, maxfev=20000)) for c in (-0.1, 0.2)), key=lambda r: r.fun)
                show(np.exp(best.x[0]), best.x[1])


            """);
        foreach (var (i, sample) in samples.Index())
            script.AppendLine(System.Globalization.CultureInfo.InvariantCulture, $"fit(x{i}, {sample.TruncatedAt:R}, 0.1, inf)\nfit(x{i}, {sample.TruncatedAt:R}, 0.1, 0.15)");
        var lines = await Python.RunAsync(script.ToString(), [.. samples.Select((s, i) => ($"x{i}", s.Sample))]);
        Assert.Equal(2 * samples.Count, lines.Length);
        for (var i = 0; i < samples.Count; i++)
        {
            // Without a prior the shape of a truncated sample may lie at the bounds, which scipy does not know here.
            var fit = GeneralizedPareto.Fit(samples[i].Sample, samples[i].TruncatedAt, 0.1);
            if (lines[2 * i][1] is > GeneralizedPareto.LeastShape and < GeneralizedPareto.GreatestShape)
            {
                Near.Equal(lines[2 * i][0], fit.Scale, 1e-5, $"scale {i}");
                Near.Equal(lines[2 * i][1], fit.Shape, 1e-5, $"shape {i}");
            }

            var held = GeneralizedPareto.Fit(samples[i].Sample, samples[i].TruncatedAt, 0.1, 0.15);
            Near.Equal(lines[(2 * i) + 1][0], held.Scale, 1e-5, $"scale with prior {i}");
            Near.Equal(lines[(2 * i) + 1][1], held.Shape, 1e-5, $"shape with prior {i}");
        }
    }

    private static List<(double[] Sample, double TruncatedAt)> Samples(double shareBeyond)
    {
        var random = new Random(51);
        var samples = new List<(double[], double)>();
        foreach (var (shape, count) in new[] { (-0.2, 300), (0.0, 60), (0.0, 500), (0.2, 200), (0.5, 200) })
        {
            var from = new GeneralizedPareto(1.7, shape);
            var truncatedAt = double.IsInfinity(shareBeyond) ? shareBeyond : from.Quantile(shareBeyond);
            var least = from.Survival(truncatedAt);
            samples.Add(([.. Enumerable.Range(0, count).Select(_ => from.Quantile(1 - ((1 - least) * random.NextDouble())))], truncatedAt));
        }

        return samples;
    }
}
