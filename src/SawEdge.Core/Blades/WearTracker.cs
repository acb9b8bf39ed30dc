using SawEdge.Core.Load;
using SawEdge.Core.Statistics;

namespace SawEdge.Core.Blades;

/// <summary>
/// Follows the specific energy of one blade over the area it cuts. Cuts are gathered into stretches of equal area, each
/// represented by its median, so that neither a hard bar nor a single odd cut counts; the way it goes on is the Theil-Sen line
/// (Theil 1950, Sen 1968) through the latest stretches.
/// </summary>
internal sealed class WearTracker
{
    /// <summary>Stretches that are kept; when there are more, each two become one.</summary>
    public const int MostStretches = 64;

    private const int MostInStretch = 64;
    private const double FirstStretchM2 = 0.1;

    // A new blade's own level is that of its beginning after it is broken in (62.5 in2 or 0.04 m2, see the catalogue's break-in).
    private const double BrokenInM2 = 0.05;
    private const double BeginningM2 = 0.5;
    private const int LeastStretches = 4;

    // The line goes through the latest third of the blade's life, so that it follows a blade that wears ever faster.
    private const double LatestShare = 0.34;

    // Toward its end a blade wears faster than lately, by up to this much; common practice, no source. It opens the interval's lower end.
    private const double Faster = 2.5;

    /// <summary>A blade is due a little before it is dull, so that there is time to change it: this share of the area it has cut.</summary>
    private const double NoticeShare = 0.1;

    private readonly List<WearPoint> _stretches = [];
    private readonly List<double> _open = [];
    private double _stretchM2 = FirstStretchM2;
    private double _openFromM2;
    private double _areaM2;

    /// <summary>Stretches so far, the open one last.</summary>
    public IReadOnlyList<WearPoint> Points => _open.Count == 0 ? [.. _stretches] : [.. _stretches, OpenPoint()];

    /// <summary>Takes in a cut.</summary>
    /// <param name="residual">ln(specific energy / model) freed of the kind of cut; NaN where it is not known.</param>
    /// <param name="areaM2">Area the blade has cut after it, m2.</param>
    public void Add(double residual, double areaM2)
    {
        _areaM2 = areaM2;
        if (double.IsNaN(residual))
            return;
        if (_open.Count < MostInStretch)
            _open.Add(residual);
        else
            _open[(int)(areaM2 * 1e6) % MostInStretch] = residual;
        if (areaM2 - _openFromM2 < _stretchM2)
            return;
        _stretches.Add(OpenPoint());
        _open.Clear();
        _openFromM2 = areaM2;
        if (_stretches.Count > MostStretches)
            Join();
    }

    /// <summary>The blade's own level when it was new: the median of its beginning; null while that is not over.</summary>
    public double? Beginning()
    {
        var points = _stretches.Where(p => p.AreaM2 > BrokenInM2 && p.AreaM2 <= BeginningM2).ToArray();
        if (points.Length == 0 || _areaM2 < BeginningM2 / 2)
            return null;
        Span<double> values = [.. points.Select(p => p.Residual)];
        return RobustStatistics.Median(values);
    }

    /// <summary>How the blade will go on; null while there is too little of it.</summary>
    /// <param name="reference">Its level when it was new.</param>
    /// <param name="dullRise">Rise at which it is dull, as a share.</param>
    /// <param name="cutAreaM2">Area of one cut of the present job, m2, or NaN.</param>
    public WearForecast? Forecast(double reference, double dullRise, double cutAreaM2)
    {
        var points = Points;
        if (points.Count < LeastStretches)
            return null;
        var latest = Math.Max(LeastStretches + 2, (int)Math.Ceiling(LatestShare * points.Count));
        var from = Math.Max(0, points.Count - latest);
        Span<double> x = stackalloc double[points.Count - from];
        Span<double> y = stackalloc double[points.Count - from];
        for (var i = from; i < points.Count; i++)
            (x[i - from], y[i - from]) = (points[i].AreaM2, points[i].Residual);
        var line = TheilSen.Fit(x, y);
        var now = line.Intercept + (line.Slope * _areaM2) - reference;

        // How well the line's end is known: its points scatter about it, and there are few.
        for (var i = 0; i < x.Length; i++)
            y[i] -= line.Intercept + (line.Slope * x[i]);
        var sd = RobustStatistics.Mad(y) * Math.Sqrt(4.0 / x.Length);
        var dull = Math.Log(1 + dullRise);
        var missing = dull - now;
        var left = Left(missing, line.Slope);
        var low = Left(missing - (2 * sd), Faster * Math.Max(line.High, line.Slope));
        var high = Left(missing + (2 * sd), line.Low);
        return new WearForecast
        {
            Rise = Math.Exp(now) - 1,
            DullRise = dullRise,
            AreaM2 = _areaM2,
            SlopePerM2 = line.Slope,
            AreaLeftM2 = left,
            LowM2 = low,
            HighM2 = high,
            CutsLeft = left / cutAreaM2 is { } cuts && double.IsFinite(cuts) ? Math.Floor(cuts) : null,
            IsDue = Left(missing + sd, line.Slope) <= NoticeShare * _areaM2,
        };
    }

    private static double? Left(double missing, double slope) => missing <= 0 ? 0 : slope > 0 ? missing / slope : null;

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Number(_stretchM2);
        to.Number(_openFromM2);
        to.Number(_areaM2);
        to.Numbers([.. _open]);
        to.Numbers([.. _stretches.SelectMany(p => new[] { p.AreaM2, p.Residual, p.Cuts })]);
    }

    /// <summary>Goes on from what was written down.</summary>
    public static WearTracker Restore(MemoryReader from)
    {
        var tracker = new WearTracker { _stretchM2 = from.Number(), _openFromM2 = from.Number(), _areaM2 = from.Number() };
        tracker._open.AddRange(from.Numbers());
        tracker._stretches.AddRange(from.Numbers().Chunk(3).Select(p => new WearPoint(p[0], p[1], p[2])));
        return tracker;
    }

    private WearPoint OpenPoint()
    {
        Span<double> values = [.. _open];
        return new WearPoint((_openFromM2 + _areaM2) / 2, RobustStatistics.Median(values), _open.Count);
    }

    private void Join()
    {
        var joined = _stretches.Chunk(2).Select(two => two.Length == 1 ? two[0] : Joined(two[0], two[1])).ToArray();
        _stretches.Clear();
        _stretches.AddRange(joined);
        _stretchM2 *= 2;
    }

    private static WearPoint Joined(WearPoint a, WearPoint b)
    {
        var cuts = a.Cuts + b.Cuts;
        return new WearPoint(((a.AreaM2 * a.Cuts) + (b.AreaM2 * b.Cuts)) / cuts, ((a.Residual * a.Cuts) + (b.Residual * b.Cuts)) / cuts, cuts);
    }
}
