namespace SawEdge.Core.Statistics;

/// <summary>
/// A linear Kalman filter (Kalman 1960) for few states, one observed number at a time. The states are numbered from 0; which
/// number means what is the caller's. Predicting and updating allocate nothing.
/// </summary>
public sealed class KalmanFilter
{
    /// <summary>Most states that a filter can have.</summary>
    public const int MostStates = 64;

    private readonly double[] _mean;
    private readonly double[] _covariance;
    private readonly double[] _row;
    private readonly double[] _gain;

    /// <summary>Creates a filter whose states are all known to be 0.</summary>
    /// <param name="states">How many, 1 to <see cref="MostStates"/>.</param>
    /// <exception cref="ArgumentOutOfRangeException">Another number of states.</exception>
    public KalmanFilter(int states)
    {
        if (states is < 1 or > MostStates)
            throw new ArgumentOutOfRangeException(nameof(states), states, $"From 1 to {MostStates} states are possible.");
        _mean = new double[states];
        _covariance = new double[states * states];
        _row = new double[states];
        _gain = new double[states];
    }

    /// <summary>Number of states.</summary>
    public int States => _mean.Length;

    /// <summary>Mean of a state.</summary>
    public double Mean(int i) => _mean[State(i)];

    /// <summary>Covariance of two states; of a state with itself its variance.</summary>
    public double Covariance(int i, int j) => _covariance[Place(i, j)];

    /// <summary>Sets a state, known independently of the others.</summary>
    /// <param name="i">The state.</param>
    /// <param name="mean">Its mean.</param>
    /// <param name="variance">Its variance, 0 or more.</param>
    public void SetState(int i, double mean, double variance)
    {
        CheckVariance(variance, nameof(variance));
        CheckFinite(mean, nameof(mean));
        for (var j = 0; j < States; j++)
            _covariance[Place(i, j)] = _covariance[Place(j, i)] = 0;
        _mean[i] = mean;
        _covariance[Place(i, i)] = variance;
    }

    /// <summary>Moves a state by a known step: what is unsure of it stays as unsure, and goes with the others as before.</summary>
    /// <param name="i">The state.</param>
    /// <param name="mean">Where it is then.</param>
    public void SetMean(int i, double mean)
    {
        CheckFinite(mean, nameof(mean));
        _mean[State(i)] = mean;
    }

    /// <summary>Adds to the variance of a state: it may have moved by itself.</summary>
    /// <param name="i">The state.</param>
    /// <param name="q">What is added, 0 or more.</param>
    public void AddVariance(int i, double q)
    {
        CheckVariance(q, nameof(q));
        _covariance[Place(i, i)] += q;
    }

    /// <summary>Multiplies a state by a factor and adds noise: a step of a first-order autoregression.</summary>
    /// <param name="i">The state.</param>
    /// <param name="factor">The factor.</param>
    /// <param name="q">Variance of the noise, 0 or more.</param>
    public void Decay(int i, double factor, double q)
    {
        CheckVariance(q, nameof(q));
        CheckFinite(factor, nameof(factor));
        _mean[State(i)] *= factor;
        for (var j = 0; j < States; j++)
        {
            if (j != i)
                _covariance[Place(i, j)] = _covariance[Place(j, i)] = _covariance[Place(i, j)] * factor;
        }

        _covariance[Place(i, i)] = (_covariance[Place(i, i)] * factor * factor) + q;
    }

    /// <summary>Adds a multiple of a state to another: a level that moves with its slope.</summary>
    /// <param name="to">The state that moves.</param>
    /// <param name="from">The state that moves it.</param>
    /// <param name="amount">How many times it is added.</param>
    public void Move(int to, int from, double amount)
    {
        CheckFinite(amount, nameof(amount));
        _mean[State(to)] += amount * _mean[State(from)];
        for (var j = 0; j < States; j++)
            _covariance[Place(to, j)] += amount * _covariance[Place(from, j)];
        for (var j = 0; j < States; j++)
            _covariance[Place(j, to)] += amount * _covariance[Place(j, from)];
    }

    /// <summary>What an observation of a weighted sum of states would show, without its own noise.</summary>
    /// <param name="index">The states in the sum.</param>
    /// <param name="weight">The weight of each.</param>
    public (double Mean, double Variance) Predict(ReadOnlySpan<int> index, ReadOnlySpan<double> weight)
    {
        CheckLengths(index, weight);
        var (mean, variance) = (0.0, 0.0);
        for (var a = 0; a < index.Length; a++)
        {
            mean += weight[a] * Mean(index[a]);
            for (var b = 0; b < index.Length; b++)
                variance += weight[a] * weight[b] * _covariance[Place(index[a], index[b])];
        }

        return (mean, Math.Max(0, variance));
    }

    /// <summary>
    /// Learns from an observation of a weighted sum of states. The more a noise variance lies below the variance of what it
    /// observes, the fewer digits of the new variance are right: at 1e-8 seven, at 1e-12 three, below 1e-14 none.
    /// </summary>
    /// <param name="index">The states in the sum.</param>
    /// <param name="weight">The weight of each.</param>
    /// <param name="observed">The observed value.</param>
    /// <param name="noiseVariance">Variance of its noise, 0 or more. Where nothing is uncertain, nothing is learned.</param>
    /// <exception cref="ArgumentOutOfRangeException">A value that is not finite, or a variance below 0.</exception>
    public void Update(ReadOnlySpan<int> index, ReadOnlySpan<double> weight, double observed, double noiseVariance)
    {
        CheckVariance(noiseVariance, nameof(noiseVariance));
        CheckFinite(observed, nameof(observed));
        var (mean, variance) = Predict(index, weight);
        var total = variance + noiseVariance;
        if (!(total > 0))
            return;

        // Covariance of each state with the sum, and the gain.
        var count = States;
        for (var i = 0; i < count; i++)
        {
            _row[i] = 0;
            for (var a = 0; a < index.Length; a++)
                _row[i] += weight[a] * _covariance[Place(i, index[a])];
            _gain[i] = _row[i] / total;
        }

        // P - (P h) (P h)' / (h' P h + R), one triangle, mirrored: it cannot become unsymmetric.
        for (var i = 0; i < count; i++)
        {
            _mean[i] += _gain[i] * (observed - mean);
            var across = _covariance.AsSpan(i * count, count);
            for (var j = i; j < count; j++)
            {
                across[j] -= _gain[i] * _row[j];
                _covariance[(j * count) + i] = across[j];
            }

            across[i] = Math.Max(0, across[i]);
        }
    }

    /// <summary>Everything that the filter knows: the means, then the upper triangle of the covariance, row by row.</summary>
    public double[] Save()
    {
        var saved = new double[SavedLength(States)];
        _mean.CopyTo(saved, 0);
        var next = States;
        for (var i = 0; i < States; i++)
        {
            for (var j = i; j < States; j++)
                saved[next++] = _covariance[Place(i, j)];
        }

        return saved;
    }

    /// <summary>Takes up a filter where <see cref="Save"/> left it: it goes on with the same numbers to the last bit.</summary>
    /// <param name="states">Number of states.</param>
    /// <param name="saved">What was saved.</param>
    /// <exception cref="ArgumentException">It does not belong to this number of states, or is damaged; the message says what would be right.</exception>
    public static KalmanFilter Restore(int states, ReadOnlySpan<double> saved)
    {
        var filter = new KalmanFilter(states);
        if (saved.Length != SavedLength(states))
            throw new ArgumentException($"{saved.Length} saved numbers; a filter with {states} states has {SavedLength(states)}.", nameof(saved));
        saved[..states].CopyTo(filter._mean);
        if (Array.FindIndex(filter._mean, double.IsNaN) is >= 0 and var bad)
            throw new ArgumentException($"The saved mean of state {bad} is no number.", nameof(saved));
        var next = states;
        for (var i = 0; i < states; i++)
        {
            for (var j = i; j < states; j++, next++)
            {
                if (double.IsNaN(saved[next]) || (i == j && saved[next] < 0))
                    throw new ArgumentException($"The saved covariance of states {i} and {j} (number {next}) is {(i == j ? "below 0 or no number" : "no number")}.", nameof(saved));
                filter._covariance[filter.Place(i, j)] = filter._covariance[filter.Place(j, i)] = saved[next];
            }
        }

        return filter;
    }

    private static int SavedLength(int states) => states + (states * (states + 1) / 2);

    private static void CheckVariance(double variance, string name)
    {
        if (!(variance >= 0))
            throw new ArgumentOutOfRangeException(name, variance, "A variance of 0 or more is needed.");
    }

    private static void CheckLengths(ReadOnlySpan<int> index, ReadOnlySpan<double> weight)
    {
        if (index.Length != weight.Length)
            throw new ArgumentException($"{index.Length} states, but {weight.Length} weights; each state needs one.", nameof(weight));
    }

    private static void CheckFinite(double value, string name)
    {
        if (!double.IsFinite(value))
            throw new ArgumentOutOfRangeException(name, value, "A finite number is needed.");
    }

    private int State(int i) => (uint)i < (uint)_mean.Length
        ? i
        : throw new ArgumentOutOfRangeException(nameof(i), i, $"This filter has states 0 to {_mean.Length - 1}.");

    private int Place(int i, int j) => (State(i) * _mean.Length) + State(j);
}
