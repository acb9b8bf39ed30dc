using SawEdge.Core.Cutting;

namespace SawEdge.Core.Tests.Cutting;

/// <summary>
/// What learned times compute against certified values: NIST Statistical Reference Datasets, univariate summary statistics, data sets
/// Mavro and Lew (lower difficulty). Learned times hold means and deviations of logarithms, so the data go in as their exponentials;
/// neither set has a value that is held in for lying far out. The product uses no regression, so there is none to check.
/// </summary>
public class LearnedTimesPublishedTests
{
    internal static readonly double[] Mavro =
    [
        2.0018, 2.0017, 2.0018, 2.0019, 2.0018, 2.0017, 2.0015, 2.0014, 2.0015, 2.0015,
        2.0017, 2.0018, 2.0018, 2.0019, 2.0019, 2.0021, 2.002, 2.0016, 2.0014, 2.0013,
        2.0013, 2.0015, 2.0015, 2.0016, 2.0015, 2.0014, 2.0013, 2.0014, 2.0015, 2.0014,
        2.0015, 2.0016, 2.0015, 2.0016, 2.0019, 2.002, 2.002, 2.0021, 2.0022, 2.0023,
        2.0024, 2.0025, 2.0027, 2.0026, 2.0026, 2.0026, 2.0027, 2.0026, 2.0025, 2.0024,
    ];

    internal static readonly double[] Lew =
    [
        -213, -564, -35, -15, 141, 115, -420, -360, 203, -338, -431, 194, -220, -513, 154, -125, -559, 92, -21, -579,
        -52, 99, -543, -175, 162, -457, -346, 204, -300, -474, 164, -107, -572, -8, 83, -541, -224, 180, -420, -374,
        201, -236, -531, 83, 27, -564, -112, 131, -507, -254, 199, -311, -495, 143, -46, -579, -90, 136, -472, -338,
        202, -287, -477, 169, -124, -568, 17, 48, -568, -135, 162, -430, -422, 172, -74, -577, -13, 92, -534, -243,
        194, -355, -465, 156, -81, -578, -64, 139, -449, -384, 193, -198, -538, 110, -44, -577, -6, 66, -552, -164,
        161, -460, -344, 205, -281, -504, 134, -28, -576, -118, 156, -437, -381, 200, -220, -540, 83, 11, -568, -160,
        172, -414, -408, 188, -125, -572, -32, 139, -492, -321, 205, -262, -504, 142, -83, -574, 0, 48, -571, -106,
        137, -501, -266, 190, -391, -406, 194, -186, -553, 83, -13, -577, -49, 103, -515, -280, 201, 300, -506, 131,
        -45, -578, -80, 138, -462, -361, 201, -211, -554, 32, 74, -533, -235, 187, -372, -442, 182, -147, -566, 25,
        68, -535, -244, 194, -351, -463, 174, -125, -570, 15, 72, -550, -190, 172, -424, -385, 198, -218, -536, 96,
    ];

    [Fact]
    public void Mean_and_deviation_of_Mavro_are_certified() => Check(Mavro, 50, 2.00185600000000, 0.000429123454003053);

    [Fact]
    public void Mean_and_deviation_of_Lew_are_certified() => Check(Lew, 200, -177.435, 277.332168044316);

    /// <summary>
    /// A job with one cut is foretold with Student's t of 4 degrees of freedom, a job with 7 cuts with 10: 2.776 and 2.228 at 95 % two-sided
    /// (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, from memory; as in any table of t).
    /// </summary>
    [Theory]
    [InlineData(1, 2.776)]
    [InlineData(7, 2.228)]
    public void The_interval_of_a_job_uses_the_tables_of_t(int cuts, double t)
    {
        var times = new LearnedTimes();
        for (var i = 0; i < cuts; i++)
            times.ObserveJob("saw", "job", 100);
        var time = times.PredictJob("saw", "job")!;

        // Before any cut the scatter is taken as 0.1 with the weight of 4 cuts; equal cuts add none.
        var scatter2 = 4 * 0.01 / (4 + cuts - 1);
        Assert.Equal(100, time.ExpectedS, 9);
        Assert.Equal(t, Math.Log(time.HighS / 100) / Math.Sqrt(scatter2 * (1 + (1.0 / cuts))), 0.0005);
        Assert.Equal(time.HighS / 100, 100 / time.LowS, 9);
    }

    private static void Check(double[] data, int count, double mean, double deviation)
    {
        Assert.Equal(count, data.Length);
        var times = new LearnedTimes();
        foreach (var value in data)
            times.ObserveJob("saw", "job", Math.Exp(value));
        var job = Assert.Single(times.Save().Jobs);
        Assert.Equal(count, job.Cuts);
        Assert.Equal(mean, job.MeanLog, 1e-13 * Math.Abs(mean));
        Assert.Equal(deviation, Math.Sqrt(job.Squares / (count - 1)), 1e-9 * deviation);
    }
}
