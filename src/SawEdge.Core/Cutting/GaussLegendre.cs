namespace SawEdge.Core.Cutting;

/// <summary>Integration of a smooth function over a stretch, by Gauss's rule in equal panels.</summary>
internal static class GaussLegendre
{
    // Abscissae and weights of the 8-point rule: Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.4.
    private static readonly double[] Places = [0.1834346424956498, 0.5255324099163290, 0.7966664774136267, 0.9602898564975363];
    private static readonly double[] Weights = [0.3626837833783620, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763];

    /// <summary>Integral of a function of one state object.</summary>
    /// <param name="state">Handed to the function, so that it needs no closure.</param>
    /// <param name="function">The function.</param>
    /// <param name="from">Lower end.</param>
    /// <param name="to">Upper end.</param>
    /// <param name="panels">How many panels the stretch is divided into; they crowd toward both ends, where curved edges run steeply.</param>
    public static double Integrate<T>(T state, Func<T, double, double> function, double from, double to, int panels = 16)
    {
        var sum = 0.0;
        var low = from;
        for (var panel = 1; panel <= panels; panel++)
        {
            var high = from + ((to - from) * (0.5 - (0.5 * Math.Cos(Math.PI * panel / panels))));
            var (centre, half) = (0.5 * (low + high), 0.5 * (high - low));
            for (var i = 0; i < Places.Length; i++)
                sum += half * Weights[i] * (function(state, centre - (half * Places[i])) + function(state, centre + (half * Places[i])));
            low = high;
        }

        return sum;
    }
}
