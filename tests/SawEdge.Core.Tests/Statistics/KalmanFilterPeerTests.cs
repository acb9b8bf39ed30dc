using SawEdge.Core.Statistics;
using SawEdge.TestSupport;

namespace SawEdge.Core.Tests.Statistics;

/// <summary>Against Debian's python3-statsmodels, unobserved components with fixed variances: filtered states, their covariances, innovations and their variances.</summary>
public class KalmanFilterPeerTests
{
    private static readonly double[] Observed = MakeObserved();

    [PeerFact(Python.Program, Python.Statsmodels)]
    public async Task LocalLevel_IsThatOfStatsmodels()
    {
        var lines = await Python.RunAsync(
            """
            from statsmodels.tsa.statespace.structural import UnobservedComponents
            model = UnobservedComponents(y, 'llevel')
            model.ssm.initialize_known(np.array([1.5]), np.array([[4.0]]))
            r = model.filter([0.5, 0.07])
            for t in range(len(y)):
                show(r.filtered_state[:, t], r.filtered_state_cov[:, :, t], r.forecasts_error[:, t], r.forecasts_error_cov[:, :, t])
            """,
            ("y", Observed));
        var filter = new KalmanFilter(1);
        filter.SetState(0, 1.5, 4);
        Assert.Equal(Observed.Length, lines.Length);
        for (var t = 0; t < Observed.Length; t++)
        {
            var (mean, variance) = filter.Predict([0], [1]);
            if (!double.IsNaN(Observed[t]))
            {
                Near.Equal(lines[t][2], Observed[t] - mean, 1e-10, $"innovation {t}");
                Near.Equal(lines[t][3], variance + 0.5, 1e-10, $"innovation variance {t}");
                filter.Update([0], [1], Observed[t], 0.5);
            }

            Near.Equal(lines[t][0], filter.Mean(0), 1e-10, $"level {t}");
            Near.Equal(lines[t][1], filter.Covariance(0, 0), 1e-10, $"variance {t}");
            filter.AddVariance(0, 0.07);
        }
    }

    [PeerFact(Python.Program, Python.Statsmodels)]
    public async Task LocalLinearTrend_IsThatOfStatsmodels()
    {
        var lines = await Python.RunAsync(
            """
            from statsmodels.tsa.statespace.structural import UnobservedComponents
            model = UnobservedComponents(y, 'lltrend')
            model.ssm.initialize_known(np.array([1.5, -0.1]), np.diag([4.0, 0.5]))
            r = model.filter([0.5, 0.07, 0.003])
            for t in range(len(y)):
                show(r.filtered_state[:, t], r.filtered_state_cov[:, :, t], r.forecasts_error[:, t], r.forecasts_error_cov[:, :, t])
            """,
            ("y", Observed));
        var filter = new KalmanFilter(2);
        filter.SetState(0, 1.5, 4);
        filter.SetState(1, -0.1, 0.5);
        Assert.Equal(Observed.Length, lines.Length);
        for (var t = 0; t < Observed.Length; t++)
        {
            var (mean, variance) = filter.Predict([0], [1]);
            if (!double.IsNaN(Observed[t]))
            {
                Near.Equal(lines[t][6], Observed[t] - mean, 1e-10, $"innovation {t}");
                Near.Equal(lines[t][7], variance + 0.5, 1e-10, $"innovation variance {t}");
                filter.Update([0], [1], Observed[t], 0.5);
            }

            Near.Equal(lines[t][0], filter.Mean(0), 1e-10, $"level {t}");
            Near.Equal(lines[t][1], filter.Mean(1), 1e-10, $"slope {t}");
            Near.Equal(lines[t][2], filter.Covariance(0, 0), 1e-10, $"level variance {t}");
            Near.Equal(lines[t][3], filter.Covariance(0, 1), 1e-10, $"covariance {t}");
            Near.Equal(lines[t][5], filter.Covariance(1, 1), 1e-10, $"slope variance {t}");
            filter.Move(0, 1, 1);
            filter.AddVariance(0, 0.07);
            filter.AddVariance(1, 0.003);
        }
    }

    /// <summary>A level that drifts, with a few missing values.</summary>
    private static double[] MakeObserved()
    {
        var random = new Random(71);
        var noise = Near.Normal(random, 120);
        return [.. noise.Select((v, i) => i % 17 == 9 ? double.NaN : (0.05 * i) + (0.7 * v))];
    }
}
