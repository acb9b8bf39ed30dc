namespace SawEdge.Core.Statistics;

/// <summary>How much of a signal comes and goes at a frequency.</summary>
public static class Periodogram
{
    /// <summary>
    /// The Lomb-Scargle power of unevenly spaced values (Lomb 1976, Scargle 1982): half the sum of squares that a sinusoid of
    /// this frequency, fitted by least squares, takes away. Not normalised: a sinusoid of amplitude A gives about A squared
    /// times the number of values over 4. The values should have a mean near 0; none is taken off here. Allocates nothing.
    /// </summary>
    /// <param name="position">Where each value was taken, any unit, any order.</param>
    /// <param name="value">The values; those that are not finite are left out.</param>
    /// <param name="frequency">Cycles per unit of position.</param>
    /// <returns>The power, unit of the values squared; 0 where there is nothing.</returns>
    /// <exception cref="ArgumentException">Not as many values as positions.</exception>
    public static double Power(ReadOnlySpan<double> position, ReadOnlySpan<double> value, double frequency)
    {
        if (position.Length != value.Length)
            throw new ArgumentException($"{position.Length} positions, but {value.Length} values; each position needs one.", nameof(value));

        var angular = Math.Tau * frequency;
        var (yc, ys, cc, ss, cs) = (0.0, 0.0, 0.0, 0.0, 0.0);
        var origin = double.NaN;
        for (var i = 0; i < value.Length; i++)
        {
            if (!double.IsFinite(position[i]) || !double.IsFinite(value[i]))
                continue;

            // The power does not depend on where positions begin; angles near 0 are the more exact ones.
            if (double.IsNaN(origin))
                origin = position[i];
            var (sin, cos) = Math.SinCos(angular * (position[i] - origin));
            yc += value[i] * cos;
            ys += value[i] * sin;
            cc += cos * cos;
            ss += sin * sin;
            cs += cos * sin;
        }

        // Scargle's tau, which makes the sine and the cosine independent on these positions.
        var (sinTau, cosTau) = Math.SinCos(0.5 * Math.Atan2(2 * cs, cc - ss));
        var cross = 2 * cosTau * sinTau * cs;
        var cosine = Share((cosTau * yc) + (sinTau * ys), (cosTau * cosTau * cc) + cross + (sinTau * sinTau * ss));
        var sine = Share((cosTau * ys) - (sinTau * yc), (cosTau * cosTau * ss) - cross + (sinTau * sinTau * cc));
        return 0.5 * (cosine + sine);
    }

    /// <summary>Where all positions lie on the zeros of a wave, it explains nothing.</summary>
    private static double Share(double product, double square) => square > 1e-12 ? product * product / square : 0;
}
