namespace SawEdge.Core.Signals;

/// <summary>
/// The value by straight lines between points that a person measured: for a head whose position comes as the counts of a gauge that is not
/// linear. Beyond the first and last point their line goes on; whoever wants an end states limits.
/// </summary>
public sealed record TableConversion : ValueConversion
{
    private readonly double[] _raw;
    private readonly double[] _values;

    /// <summary>States the points.</summary>
    /// <param name="points">Raw value and value in the signal's unit; at least two, raw values rising, values rising or falling throughout.</param>
    /// <exception cref="ArgumentException">The points do not rise, or turn round.</exception>
    public TableConversion(IReadOnlyList<(double Raw, double Value)> points)
    {
        if (FindFault(points) is { } fault)
            throw new ArgumentException($"Point {fault + 1} does not go on from those before it.", nameof(points));
        _raw = [.. points.Select(point => point.Raw)];
        _values = [.. points.Select(point => point.Value)];
    }

    /// <summary>Least value among the points.</summary>
    public double Least => Math.Min(_values[0], _values[^1]);

    /// <summary>Greatest value among the points.</summary>
    public double Greatest => Math.Max(_values[0], _values[^1]);

    /// <summary>The first point that cannot stand where it stands, or null where all can.</summary>
    /// <param name="points">The points.</param>
    /// <returns>Its index; the number of points where there are fewer than two.</returns>
    public static int? FindFault(IReadOnlyList<(double Raw, double Value)> points)
    {
        if (points.Count < 2)
            return points.Count;
        for (var i = 1; i < points.Count; i++)
        {
            // The product is above 0 where both steps go the same way, and is not where one of them is no number.
            var goesOn = points[i].Raw > points[i - 1].Raw && (points[i].Value - points[i - 1].Value) * (points[1].Value - points[0].Value) > 0;
            if (!goesOn)
                return i;
        }

        return null;
    }

    /// <inheritdoc/>
    public override double Apply(double raw)
    {
        var i = Array.BinarySearch(_raw, raw);
        i = Math.Clamp(i >= 0 ? i : ~i, 1, _raw.Length - 1);
        var share = (raw - _raw[i - 1]) / (_raw[i] - _raw[i - 1]);
        return _values[i - 1] + (share * (_values[i] - _values[i - 1]));
    }

    /// <summary>Whether the points are the same.</summary>
    public bool Equals(TableConversion? other) => other is not null && _raw.AsSpan().SequenceEqual(other._raw) && _values.AsSpan().SequenceEqual(other._values);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(_raw.Length, _raw[0], _values[0]);
}
