namespace SawEdge.Simulator.Saws;

/// <summary>
/// The head's way through the stock without any stop: time, depth, power and energy at knots so close that a straight
/// line between two of them is the truth. Solved from depth to time, dt = dd / vd(d), piece by piece between the depths at
/// which the contact width or the governing limit changes, so that contact and breakthrough are exact and no integration
/// steps across a jump.
/// </summary>
public sealed class CutPath
{
    private const double LargestStepMm = 0.3;

    // Inside a piece by this much, the width is the piece's own even where the next piece begins with another.
    private const double InsideMm = 1e-7;

    // Gauss and Legendre, three points on 0..1: exact for polynomials up to the fifth degree.
    private static readonly double[] Points = [0.5 - (0.5 * Math.Sqrt(0.6)), 0.5, 0.5 + (0.5 * Math.Sqrt(0.6))];
    private static readonly double[] Weights = [5.0 / 18, 8.0 / 18, 5.0 / 18];

    private readonly CutConditions _conditions;
    private readonly List<double> _times = [];
    private readonly List<double> _depths = [];
    private readonly List<double> _powers = [];
    private readonly List<double> _energies = [];

    /// <summary>Solves a cut.</summary>
    /// <param name="conditions">How it goes.</param>
    /// <param name="stopsMm">Depths at which something happens and an exact knot is wanted.</param>
    public CutPath(CutConditions conditions, params IEnumerable<double> stopsMm)
    {
        _conditions = conditions;
        var height = conditions.Section.HeightMm;
        var edges = new SortedSet<double>(conditions.Section.BreaksMm.Concat(stopsMm)) { 0, height };
        if (conditions.HardZone is { } zone)
        {
            edges.Add(zone.FromMm);
            edges.Add(zone.ToMm);
        }

        if (conditions.LooseZone is { } loose)
        {
            edges.Add(loose.FromMm);
            edges.Add(loose.ToMm);
        }

        var from = double.NaN;
        foreach (var edge in edges.Where(depth => depth >= 0 && depth <= height))
        {
            if (edge - from > 2 * InsideMm)
                Solve(from, edge);
            from = edge;
        }
    }

    /// <summary>Time from contact to breakthrough, s.</summary>
    public double DurationS => _times[^1];

    /// <summary>Net energy of the whole cut, kJ.</summary>
    public double EnergyKj => _energies[^1];

    /// <summary>Number of knots.</summary>
    public int Count => _times.Count;

    /// <summary>Time at which a depth is reached, s.</summary>
    public double TimeAt(double depthMm)
    {
        var index = _depths.BinarySearch(depthMm);
        if (index >= 0)
            return _times[index];
        index = Math.Clamp(~index - 1, 0, Count - 2);
        return Between(_depths, _times, index, depthMm);
    }

    /// <summary>Net energy up to a time, kJ.</summary>
    public double EnergyAtKj(double timeS)
    {
        var cursor = 0;
        Seek(timeS, ref cursor);
        return Between(_times, _energies, cursor, timeS);
    }

    /// <summary>Depth at a time, mm.</summary>
    /// <param name="timeS">Time since contact, s.</param>
    /// <param name="cursor">Where the last search ended; 0 at first. Makes a run through the cut cheap.</param>
    public double DepthAt(double timeS, ref int cursor)
    {
        Seek(timeS, ref cursor);
        return Between(_times, _depths, cursor, timeS);
    }

    /// <summary>Motor power above idle at a time, kW, without noise.</summary>
    /// <param name="timeS">Time since contact, s.</param>
    /// <param name="cursor">Where the last search ended.</param>
    public double NetKwAt(double timeS, ref int cursor)
    {
        Seek(timeS, ref cursor);
        return Between(_times, _powers, cursor, timeS);
    }

    private static double Between(List<double> xs, List<double> ys, int index, double x)
    {
        var width = xs[index + 1] - xs[index];
        var share = width > 0 ? Math.Clamp((x - xs[index]) / width, 0, 1) : 1;
        return ys[index] + (share * (ys[index + 1] - ys[index]));
    }

    private void Seek(double timeS, ref int cursor)
    {
        if (cursor < 0 || cursor > Count - 2 || _times[cursor] > timeS)
            cursor = 0;
        while (cursor < Count - 2 && _times[cursor + 1] <= timeS)
            cursor++;
    }

    /// <summary>Solves one piece in which the width is smooth.</summary>
    private void Solve(double from, double to)
    {
        // Closer toward the ends of the piece, where a round runs out like a square root: knots spaced as a cosine make
        // that smooth for the integration.
        var steps = Math.Max(24, (int)Math.Ceiling((to - from) * (Math.PI / 2) / LargestStepMm));
        AddKnot(from, from + InsideMm, 0, 0);
        var last = from;
        for (var i = 1; i <= steps; i++)
        {
            var next = i == steps ? to : from + ((to - from) * (1 - Math.Cos(Math.PI * i / steps)) / 2);
            if (IsCapped(Math.Max(last, from + InsideMm)) != IsCapped(Math.Min(next, to - InsideMm)))
            {
                var kink = Kink(Math.Max(last, from + InsideMm), Math.Min(next, to - InsideMm));
                Step(last, kink, to);
                last = kink;
            }

            Step(last, next, to);
            last = next;
        }
    }

    private void Step(double from, double to, double pieceEnd)
    {
        double seconds = 0;
        double energy = 0;
        for (var i = 0; i < Points.Length; i++)
        {
            var depth = from + ((to - from) * Points[i]);
            var width = _conditions.Section.WidthAt(depth);
            var descent = _conditions.DescentMmMin(depth, width);
            var time = 60 * (to - from) * Weights[i] / descent;
            seconds += time;
            energy += time * _conditions.NetKw(depth, width, descent);
        }

        AddKnot(to, Math.Min(to, pieceEnd - InsideMm), seconds, energy);
    }

    private void AddKnot(double depth, double widthDepth, double seconds, double energyKj)
    {
        var width = _conditions.Section.WidthAt(widthDepth);
        _depths.Add(depth);
        _powers.Add(_conditions.NetKw(widthDepth, width, _conditions.DescentMmMin(widthDepth, width)));
        _times.Add((_times.Count > 0 ? _times[^1] : 0) + seconds);
        _energies.Add((_energies.Count > 0 ? _energies[^1] : 0) + energyKj);
    }

    private bool IsCapped(double depth) => _conditions.RateCm2Min * 100 >= _conditions.DescentCapMmMin * _conditions.Section.WidthAt(depth);

    private double Kink(double from, double to)
    {
        var capped = IsCapped(from);
        for (var i = 0; i < 60; i++)
        {
            var middle = (from + to) / 2;
            if (IsCapped(middle) == capped)
                from = middle;
            else
                to = middle;
        }

        return to;
    }
}
