using SawEdge.Core.Cycles;

namespace SawEdge.Core.Load;

/// <summary>Load that is expected at one moment of a cut, kW above the idle load; NaN where nothing is expected.</summary>
/// <param name="ExpectedKw">What a normal cut takes there.</param>
/// <param name="LowKw">Lower end of the band.</param>
/// <param name="HighKw">Upper end of the band.</param>
public readonly record struct ExpectedLoad(double ExpectedKw, double LowKw, double HighKw)
{
    /// <summary>Nothing is expected.</summary>
    public static ExpectedLoad Unknown { get; } = new(double.NaN, double.NaN, double.NaN);
}

/// <summary>
/// What a normal cut of a job is expected to load the motor with along its depth, told before it is made: the cutting model with what the load
/// score learned of the blade, the kind of cut and its shape. The band holds the mean of a bin of depth in 95 of 100 normal cuts; the
/// load of a single frame swings further.
/// </summary>
public sealed class LoadOutlook
{
    /// <summary>A descent slower or faster than the model's by this factor is that of a held head, or of none that cuts.</summary>
    private const double MostFactor = 4;

    private readonly (ExpectedLoad Load, double DescentMmMin)[] _bins;
    private readonly double _exponent;

    internal LoadOutlook(double heightMm, (ExpectedLoad Load, double DescentMmMin)[] bins, double exponent) => (HeightMm, _bins, _exponent) = (heightMm, bins, exponent);

    /// <summary>Height of the section in the vise, mm.</summary>
    public double HeightMm { get; }

    /// <summary>Load expected at a depth, above idle; unknown outside the stock and where the head is held.</summary>
    /// <param name="depthMm">Depth below the top of the stock, mm.</param>
    /// <param name="descentMmMin">How fast the head comes down there, mm/min: the load goes with the feed to the power of 1 - mc (Kienzle). NaN where it is not known, and then the learned pace counts.</param>
    public ExpectedLoad At(double depthMm, double descentMmMin = double.NaN)
    {
        if (!(depthMm >= 0 && depthMm <= HeightMm))
            return ExpectedLoad.Unknown;
        var (load, usual) = _bins[Math.Min(_bins.Length - 1, (int)(depthMm / HeightMm * _bins.Length))];
        if (double.IsNaN(descentMmMin))
            return load;
        var factor = descentMmMin / usual;
        if (!(factor >= 1 / MostFactor && factor <= MostFactor))
            return ExpectedLoad.Unknown;
        var more = Math.Pow(factor, _exponent);
        return new ExpectedLoad(load.ExpectedKw * more, load.LowKw * more, load.HighKw * more);
    }
}
