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

    // Idle loads that come out the same to the last digit do so by the step of the signal.
    private const double LeastSigma = 0.005;
    private const double Walk = 0.002;
    private const double PauseWalk = 0.04;
    private static readonly TimeSpan Pause = TimeSpan.FromHours(1);

    // Friction saws, the fastest there are, run their blades at up to 5000 m/min; common practice, no source.
    private const double FastestMMin = 10_000;
    private const int Kinds = 16;
    private const int FirstKind = 2;

    // How far a kind of cut may be off the saw's line: little where the blade speed is known, for that is what differs.
    private const double KindSd = 0.02;
    private const double KindSdWithoutSpeed = 0.25;

    private readonly KindSlots _kinds = new(Kinds, FirstKind);
    private KalmanFilter _filter = new(FirstKind + Kinds);
    private double _sigma = FirstSigma;
    private double _cuts;
    private double _scaleKw;
    private long _lastTicks;

    /// <summary>Scatter of the idle load from cut to cut, as it is measured, kW.</summary>
    public double SigmaKw => _sigma * _scaleKw;

    /// <summary>Whether enough was seen that a spread is this saw's own scatter and little else.</summary>
    public bool IsScatter(double spreadKw) => _cuts >= 60 && spreadKw * spreadKw < 2.5 * _sigma * _sigma * _scaleKw * _scaleKw;

    /// <summary>Moves on to a cut and says what idle load is expected.</summary>
    /// <param name="kind">Kind of cut: where the blade speed is not read, it goes with it.</param>
    /// <param name="bladeSpeedMMin">Blade speed, m/min; NaN where it is not known.</param>
    /// <param name="at">When.</param>
    /// <returns>Mean and standard deviation of it, kW; NaN before the first cut.</returns>
    public (double Mean, double Spread) Expect(string kind, double bladeSpeedMMin, DateTimeOffset at)
    {
        if (_cuts == 0)
            return (double.NaN, double.NaN);
        var walk = at.UtcTicks - _lastTicks > Pause.Ticks ? PauseWalk : Walk;
        _filter.AddVariance(0, walk * walk * _scaleKw * _scaleKw);
        var (mean, variance) = _filter.Predict([0, 1, Kind(kind, bladeSpeedMMin)], [1, Speed(bladeSpeedMMin), 1]);
        return (mean, Math.Sqrt(variance + (_sigma * _sigma * _scaleKw * _scaleKw)));
    }

    /// <summary>Takes in the idle load of an accepted cut.</summary>
    public void Learn(string kind, double idleKw, double bladeSpeedMMin, DateTimeOffset at, double expectedKw, double spreadKw)
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
        _filter.Update([0, 1, Kind(kind, bladeSpeedMMin)], [1, Speed(bladeSpeedMMin), 1], expectedKw + (Math.Clamp(z, -3, 3) * spreadKw), noise * noise);
        if (noise * noise < 0.5 * spreadKw * spreadKw)
            return;
        _sigma = Math.Clamp(_sigma * Math.Exp(BladeTrend.ScatterStep(_cuts, z)), LeastSigma, 0.3);
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
        _kinds.Save(to);
        to.Numbers(_filter.Save());
    }

    /// <summary>Goes on from what was written down.</summary>
    public static IdleModel Restore(MemoryReader from)
    {
        var model = new IdleModel { _sigma = from.Number(), _cuts = from.Number(), _scaleKw = from.Number(), _lastTicks = from.Long() };
        model._kinds.Restore(from);
        model._filter = KalmanFilter.Restore(FirstKind + Kinds, from.Numbers());
        return model;
    }

    private int Kind(string kind, double bladeSpeedMMin)
    {
        var slot = _kinds.Find(kind.Length > 0 ? kind : "-", out var isNew)!.Value;
        if (isNew)
            _filter.SetState(slot, 0, Math.Pow((IsSpeed(bladeSpeedMMin) ? KindSd : KindSdWithoutSpeed) * _scaleKw, 2));
        return slot;
    }

    private static double Speed(double bladeSpeedMMin) => IsSpeed(bladeSpeedMMin) ? bladeSpeedMMin : 60;

    // One reading from a wrong register would bend the line for good.
    private static bool IsSpeed(double bladeSpeedMMin) => bladeSpeedMMin is > 0 and < FastestMMin;
}
