using SawEdge.Core.Statistics;

namespace SawEdge.Core.Load;

/// <summary>
/// The load with the blade running in air, P0 = a + c * blade speed, learned for the saw by a Kalman filter whose constants may
/// wander slowly, as oil and bearings warm up; a long pause lets them wander further.
/// </summary>
internal sealed class IdleModel
{
    // All as shares of the idle load; judgement, no source.
    private const double FirstSigma = 0.03;
    private const double Walk = 0.002;
    private const double PauseWalk = 0.04;
    private static readonly TimeSpan Pause = TimeSpan.FromHours(1);
    private static readonly int[] Terms = [0, 1];

    private KalmanFilter _filter = new(2);
    private double _sigma = FirstSigma;
    private double _cuts;
    private double _scaleKw;
    private long _lastTicks;

    /// <summary>Whether enough was seen that a spread is this saw's own scatter and little else.</summary>
    public bool IsScatter(double spreadKw) => _cuts >= 60 && spreadKw * spreadKw < 1.5 * _sigma * _sigma * _scaleKw * _scaleKw;

    /// <summary>Moves on to a cut and says what idle load is expected.</summary>
    /// <param name="bladeSpeedMMin">Blade speed, m/min; NaN where it is not known.</param>
    /// <param name="at">When.</param>
    /// <returns>Mean and standard deviation of it, kW; NaN before the first cut.</returns>
    public (double Mean, double Spread) Expect(double bladeSpeedMMin, DateTimeOffset at)
    {
        if (_cuts == 0)
            return (double.NaN, double.NaN);
        var walk = at.UtcTicks - _lastTicks > Pause.Ticks ? PauseWalk : Walk;
        _filter.AddVariance(0, walk * walk * _scaleKw * _scaleKw);
        Span<double> weight = [1, Speed(bladeSpeedMMin)];
        var (mean, variance) = _filter.Predict(Terms, weight);
        return (mean, Math.Sqrt(variance + (_sigma * _sigma * _scaleKw * _scaleKw)));
    }

    /// <summary>Takes in the idle load of an accepted cut.</summary>
    public void Learn(double idleKw, double bladeSpeedMMin, DateTimeOffset at, double expectedKw, double spreadKw)
    {
        _lastTicks = at.UtcTicks;
        if (_cuts == 0)
        {
            // The share that goes with speed is small: half of the idle load at a usual speed of 60 m/min, give or take all of it.
            _scaleKw = Math.Max(idleKw, 1e-3);
            _filter.SetState(0, idleKw / 2, _scaleKw * _scaleKw);
            _filter.SetState(1, idleKw / 2 / 60, Math.Pow(_scaleKw / 60, 2));
            expectedKw = idleKw;
            spreadKw = _scaleKw;
        }

        _cuts++;
        var z = (idleKw - expectedKw) / spreadKw;
        var noise = _sigma * _scaleKw;
        Span<double> weight = [1, Speed(bladeSpeedMMin)];
        _filter.Update(Terms, weight, expectedKw + (Math.Clamp(z, -3, 3) * spreadKw), noise * noise);
        if (noise * noise < 0.5 * spreadKw * spreadKw)
            return;
        var step = BladeTrend.ScatterGain(_cuts) * ((Math.Min(z * z, 6) / 0.974) - 1);
        _sigma = Math.Clamp(_sigma * Math.Exp(step), 0.002, 0.3);
    }

    /// <summary>The idle load may have become any other: what is seen next is taken as it is.</summary>
    public void Loosen() => _filter.AddVariance(0, _scaleKw * _scaleKw);

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Number(_sigma);
        to.Number(_cuts);
        to.Number(_scaleKw);
        to.Long(_lastTicks);
        to.Numbers(_filter.Save());
    }

    /// <summary>Goes on from what was written down.</summary>
    public static IdleModel Restore(MemoryReader from) => new()
    {
        _sigma = from.Number(),
        _cuts = from.Number(),
        _scaleKw = from.Number(),
        _lastTicks = from.Long(),
        _filter = KalmanFilter.Restore(2, from.Numbers()),
    };

    private static double Speed(double bladeSpeedMMin) => bladeSpeedMMin > 0 ? bladeSpeedMMin : 60;
}
