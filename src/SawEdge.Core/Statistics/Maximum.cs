namespace SawEdge.Core.Statistics;

/// <summary>A function of one variable.</summary>
internal interface IFunction
{
    /// <summary>Its value.</summary>
    double At(double x);
}

/// <summary>Finds the place of a maximum.</summary>
internal static class Maximum
{
    private const int MostSteps = 60;
    private static readonly double Golden = 0.5 * (3 - Math.Sqrt(5));

    /// <summary>
    /// The place at which a function with one peak is greatest, by parabolas through the best three points and golden sections
    /// (Brent 1973, Algorithms for Minimization without Derivatives, chapter 5).
    /// </summary>
    /// <param name="function">The function.</param>
    /// <param name="low">Lower end of the stretch.</param>
    /// <param name="high">Upper end of the stretch.</param>
    /// <param name="tolerance">How near the place has to be, unit of the variable.</param>
    public static double Between<T>(in T function, double low, double high, double tolerance)
        where T : struct, IFunction, allows ref struct
    {
        var best = low + (Golden * (high - low));
        var (second, third) = (best, best);
        var bestValue = function.At(best);
        var (secondValue, thirdValue) = (bestValue, bestValue);
        var (step, before) = (0.0, 0.0);
        for (var count = 0; count < MostSteps; count++)
        {
            var centre = 0.5 * (low + high);
            var near = tolerance + (1e-10 * Math.Abs(best));
            if (Math.Abs(best - centre) <= (2 * near) - (0.5 * (high - low)))
                break;

            var parabola = false;
            if (Math.Abs(before) > near)
            {
                var r = (best - second) * (bestValue - thirdValue);
                var q = (best - third) * (bestValue - secondValue);
                var p = ((best - third) * q) - ((best - second) * r);
                q = 2 * (q - r);
                var shift = -p / q;
                if (Math.Abs(shift) < 0.5 * Math.Abs(before) && best + shift > low && best + shift < high)
                {
                    (before, step) = (step, shift);
                    var next = best + shift;
                    if (next - low < 2 * near || high - next < 2 * near)
                        step = best < centre ? near : -near;
                    parabola = true;
                }
            }

            if (!parabola)
            {
                before = best < centre ? high - best : low - best;
                step = Golden * before;
            }

            var place = best + (Math.Abs(step) >= near ? step : Math.CopySign(near, step));
            var value = function.At(place);
            if (value >= bestValue)
            {
                if (place >= best)
                    low = best;
                else
                    high = best;
                (third, thirdValue) = (second, secondValue);
                (second, secondValue) = (best, bestValue);
                (best, bestValue) = (place, value);
                continue;
            }

            if (place < best)
                low = place;
            else
                high = place;
            if (value >= secondValue || second == best)
            {
                (third, thirdValue) = (second, secondValue);
                (second, secondValue) = (place, value);
            }
            else if (value >= thirdValue || third == best || third == second)
            {
                (third, thirdValue) = (place, value);
            }
        }

        return best;
    }
}
