using CsCheck;
using MathNet.Numerics.LinearAlgebra;
using SawEdge.Core.Statistics;

namespace SawEdge.Core.Tests.Statistics;

public class KalmanFilterTests
{
    /// <summary>
    /// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, from memory; the recursion reproduces all 20 published values.
    /// A local level whose gain has settled at 0.3 is an exponentially weighted moving average with that weight.
    /// </summary>
    [Fact]
    public void Update_OfALocalLevelInItsSteadyState_IsTheEwmaOfTheHandbook()
    {
        double[] observed = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        double[] published = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99];

        // With a noise variance of 1 the settled variance is the gain, and q makes up for what an observation takes away.
        const double Gain = 0.3;
        var filter = new KalmanFilter(1);
        filter.SetState(0, 50, Gain);
        for (var i = 0; i < observed.Length; i++)
        {
            filter.AddVariance(0, (Gain / (1 - Gain)) - Gain);
            filter.Update([0], [1], observed[i], 1);
            Assert.Equal(published[i], filter.Mean(0), 0.005 + 1e-9);
            Assert.Equal(Gain, filter.Covariance(0, 0), 1e-12);
        }
    }

    /// <summary>Without process noise the filter is Bayesian linear regression, solved here at once with MathNet.Numerics.</summary>
    [Fact]
    public void Update_WithoutProcessNoise_IsBayesianRegression() => Gen.Select(Gen.Int[1, 6], Gen.Int[1, 40], Gen.Int[0, 100_000]).Sample((states, count, seed) =>
    {
        var random = new Random(seed);
        var filter = new KalmanFilter(states);
        double[] mean = Near.Normal(random, states);
        double[] variance = [.. mean.Select(_ => Math.Exp((4 * random.NextDouble()) - 2))];
        for (var i = 0; i < states; i++)
            filter.SetState(i, mean[i], variance[i]);
        int[] index = [.. Enumerable.Range(0, states)];
        var precision = Matrix<double>.Build.DenseOfDiagonalArray([.. variance.Select(v => 1 / v)]);
        var right = precision * Vector<double>.Build.Dense(mean);
        for (var n = 0; n < count; n++)
        {
            var row = Near.Normal(random, states);
            var (observed, noise) = (3 * random.NextDouble(), 0.1 + random.NextDouble());
            random.Shuffle(index);
            filter.Update(index, [.. index.Select(i => row[i])], observed, noise);
            var x = Vector<double>.Build.Dense(row);
            precision += x.OuterProduct(x) / noise;
            right += x * (observed / noise);
        }

        var covariance = precision.Inverse();
        var solution = covariance * right;
        for (var i = 0; i < states; i++)
        {
            Near.Equal(solution[i], filter.Mean(i), 1e-8, "mean");
            for (var j = 0; j < states; j++)
                Near.Equal(covariance[i, j], filter.Covariance(i, j), 1e-8, "covariance");
        }
    });

    /// <summary>Moves and decays against F x and F P F' + Q with MathNet.Numerics.</summary>
    [Fact]
    public void MoveAndDecay_AreTheMatrixProducts() => Gen.Select(Gen.Int[2, 6], Gen.Int[0, 100_000], Gen.Double[-2, 2]).Sample((states, seed, amount) =>
    {
        var random = new Random(seed);
        var filter = Learned(states, random);
        var (to, from) = (random.Next(states), random.Next(states));
        var (x, p) = Dense(filter);
        var move = Matrix<double>.Build.DenseIdentity(states);
        move[to, from] += amount;
        filter.Move(to, from, amount);
        Same(move * x, move * p * move.Transpose(), filter);

        (x, p) = Dense(filter);
        var decay = Matrix<double>.Build.DenseIdentity(states);
        decay[to, to] = amount;
        filter.Decay(to, amount, 0.7);
        p = decay * p * decay.Transpose();
        p[to, to] += 0.7;
        Same(decay * x, p, filter);
    });

    [Fact]
    public void Predict_IsTheMeanAndVarianceOfTheSum() => Gen.Select(Gen.Int[2, 6], Gen.Int[0, 100_000]).Sample((states, seed) =>
    {
        var random = new Random(seed);
        var filter = Learned(states, random);
        var (x, p) = Dense(filter);
        var row = Vector<double>.Build.Dense(states);
        (row[0], row[states - 1]) = (2, -0.5);
        var (mean, variance) = filter.Predict([states - 1, 0], [-0.5, 2]);
        Near.Equal(row * x, mean, 1e-12, "mean");
        Near.Equal(row * p * row, variance, 1e-12, "variance");
    });

    [Fact]
    public void SetState_ForgetsWhatTheStateHadInCommonWithOthers()
    {
        var filter = Learned(3, new Random(61));
        Assert.NotEqual(0, filter.Covariance(0, 1));
        filter.SetState(1, 7, 2);
        Assert.Equal((7.0, 2.0, 0.0, 0.0, 0.0), (filter.Mean(1), filter.Covariance(1, 1), filter.Covariance(0, 1), filter.Covariance(1, 0), filter.Covariance(2, 1)));
    }

    [Fact]
    public void Restore_OfASavedFilter_GoesOnWithTheSameNumbersToTheLastBit() => Gen.Select(Gen.Int[1, 12], Gen.Int[0, 100_000]).Sample((states, seed) =>
    {
        var filter = Learned(states, new Random(seed));
        var restored = KalmanFilter.Restore(states, filter.Save());
        Go(filter, new Random(seed + 1));
        Go(restored, new Random(seed + 1));
        Assert.Equal(filter.Save().Select(BitConverter.DoubleToInt64Bits), restored.Save().Select(BitConverter.DoubleToInt64Bits));
    });

    /// <summary>Sharp observations of what was all but unknown, up to a million million times the noise variance, against the inverse of the summed precision with MathNet.Numerics.</summary>
    [Fact]
    public void Update_WithSharpObservationsOfTheUnknown_KeepsTheDigitsItStates() => Gen.Select(Gen.Int[2, 8], Gen.Int[0, 100_000], Gen.Double[4, 12]).Sample((states, seed, decades) =>
    {
        var random = new Random(seed);
        var filter = new KalmanFilter(states);
        for (var i = 0; i < states; i++)
            filter.SetState(i, 0, Math.Pow(10, decades - 6));
        int[] index = [.. Enumerable.Range(0, states)];
        var precision = Matrix<double>.Build.DenseIdentity(states) / filter.Covariance(0, 0);
        for (var n = 0; n < 60; n++)
        {
            var row = Vector<double>.Build.Dense(Near.Normal(random, states));
            filter.Update(index, row.AsArray(), 1, 1e-6);
            precision += row.OuterProduct(row) / 1e-6;
            Assert.All(index, i => Assert.True(filter.Covariance(i, i) > 0));
        }

        var (_, p) = Dense(filter);
        Assert.Equal(p, p.Transpose());
        var exact = precision.Inverse();
        Assert.All(index, i => Assert.Equal(1, p[i, i] / exact[i, i], 1e-14 * Math.Pow(10, decades)));
    });

    /// <summary>A hundred thousand observations do not wear the covariance out; against the summed precision with MathNet.Numerics.</summary>
    [Fact]
    public void Update_AHundredThousandTimes_IsStillRight()
    {
        var random = new Random(62);
        var filter = new KalmanFilter(4);
        int[] index = [0, 1, 2, 3];
        foreach (var i in index)
            filter.SetState(i, 0, 1);
        var precision = Matrix<double>.Build.DenseIdentity(4);
        for (var n = 0; n < 100_000; n++)
        {
            var row = Vector<double>.Build.Dense(Near.Normal(random, 4));
            filter.Update(index, row.AsArray(), 1, 0.01);
            precision += row.OuterProduct(row) / 0.01;
        }

        var exact = precision.Inverse();
        Assert.All(index, i => Assert.Equal(1, filter.Covariance(i, i) / exact[i, i], 1e-10));
    }

    [Fact]
    public void Update_WhereNothingIsUncertain_ChangesNothing()
    {
        var filter = new KalmanFilter(2);
        filter.SetState(0, 5, 0);
        filter.Update([0], [1], 9, 0);
        Assert.Equal(5, filter.Mean(0));
        filter.SetState(0, 5, 1);
        filter.Update([0], [1], 9, 0);
        Assert.Equal((9.0, 0.0), (filter.Mean(0), filter.Covariance(0, 0)));
    }

    [Fact]
    public void BadInput_IsRefusedWithWhatWouldBeRight()
    {
        var filter = new KalmanFilter(2);
        Assert.Contains("From 1 to 64", Assert.Throws<ArgumentOutOfRangeException>(() => new KalmanFilter(65)).Message, StringComparison.Ordinal);
        Assert.Contains("states 0 to 1", Assert.Throws<ArgumentOutOfRangeException>(() => filter.Covariance(0, 2)).Message, StringComparison.Ordinal);
        Assert.Throws<ArgumentOutOfRangeException>(() => filter.Update([2], [1], 1, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => filter.Mean(-1));
        Assert.Contains("2 states, but 1 weights", Assert.Throws<ArgumentException>(() => filter.Predict([0, 1], [1])).Message, StringComparison.Ordinal);
        Assert.Throws<ArgumentOutOfRangeException>(() => filter.Update([0], [1], double.NaN, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => filter.Update([0], [1], 1, -1));
        Assert.Throws<ArgumentOutOfRangeException>(() => filter.AddVariance(0, double.NaN));
        Assert.Contains("4 saved numbers; a filter with 2 states has 5", Assert.Throws<ArgumentException>(() => KalmanFilter.Restore(2, [1, 2, 3, 4])).Message, StringComparison.Ordinal);
        Assert.Contains("states 1 and 1 (number 4) is below 0", Assert.Throws<ArgumentException>(() => KalmanFilter.Restore(2, [1, 2, 3, 0, -1])).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void AnyFiniteInput_NeverThrows() => Gen.Select(Gen.Double.Select(v => double.IsFinite(v) ? v : 1).Array[12], Gen.Int[0, 1]).Sample(
        (v, i) =>
        {
            var filter = new KalmanFilter(2);
            filter.SetState(i, v[0], Math.Abs(v[1]));
            filter.AddVariance(1 - i, Math.Abs(v[2]));
            filter.Move(i, 1 - i, v[3]);
            filter.Decay(1 - i, v[4], Math.Abs(v[5]));
            filter.Update([0, 1], [v[6], v[7]], v[8], Math.Abs(v[9]));
            _ = filter.Predict([0, 1], [v[10], v[11]]);
        },
        iter: 2000);

    /// <summary>A filter with everything in it that observations and steps put there.</summary>
    private static KalmanFilter Learned(int states, Random random)
    {
        var filter = new KalmanFilter(states);
        for (var i = 0; i < states; i++)
            filter.SetState(i, random.NextDouble(), 0.5 + random.NextDouble());
        Go(filter, random);
        return filter;
    }

    private static void Go(KalmanFilter filter, Random random)
    {
        int[] index = [.. Enumerable.Range(0, filter.States)];
        for (var n = 0; n < 10; n++)
        {
            filter.Move(random.Next(filter.States), random.Next(filter.States), (0.2 * random.NextDouble()) - 0.1);
            filter.AddVariance(random.Next(filter.States), 0.1);
            filter.Decay(random.Next(filter.States), 0.9, 0.05);
            filter.Update(index, Near.Normal(random, filter.States), random.NextDouble(), 0.3);
        }
    }

    private static (Vector<double> Mean, Matrix<double> Covariance) Dense(KalmanFilter filter) =>
        (Vector<double>.Build.Dense(filter.States, filter.Mean), Matrix<double>.Build.Dense(filter.States, filter.States, filter.Covariance));

    private static void Same(Vector<double> mean, Matrix<double> covariance, KalmanFilter filter)
    {
        var (x, p) = Dense(filter);
        Assert.True((mean - x).InfinityNorm() <= 1e-12 * (1 + mean.InfinityNorm()));
        Assert.True((covariance - p).InfinityNorm() <= 1e-12 * (1 + covariance.InfinityNorm()));
        Assert.Equal(p, p.Transpose());
    }
}
