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
/// What a normal cut of a job is expected to load the motor with along its depth, told before it is made: the cutting model at the
/// pace that this saw has shown, with what the load score learned of the blade, the kind of cut and its shape. The band holds the
/// mean of a bin of depth in 95 of 100 normal cuts; the load of a single frame swings further.
/// </summary>
public sealed class LoadOutlook
{
    private readonly ExpectedLoad[] _bins;

    internal LoadOutlook(double heightMm, ExpectedLoad[] bins) => (HeightMm, _bins) = (heightMm, bins);

    /// <summary>Height of the section in the vise, mm.</summary>
    public double HeightMm { get; }

    /// <summary>Load expected at a depth, above idle; unknown outside the stock.</summary>
    /// <param name="depthMm">Depth below the top of the stock, mm.</param>
    public ExpectedLoad At(double depthMm) =>
        depthMm >= 0 && depthMm <= HeightMm ? _bins[Math.Min(_bins.Length - 1, (int)(depthMm / HeightMm * _bins.Length))] : ExpectedLoad.Unknown;
}
