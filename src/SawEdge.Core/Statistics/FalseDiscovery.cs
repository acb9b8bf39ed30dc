namespace SawEdge.Core.Statistics;

/// <summary>
/// Many questions at once: of what is called beyond chance, what share is chance after all (Benjamini and Hochberg, J. R. Statist. Soc. B 57, 1995).
/// </summary>
public static class FalseDiscovery
{
    /// <summary>
    /// The adjusted p-values: calling all with an adjusted value up to q beyond chance holds the expected share of wrong calls among them to q, where the
    /// questions are independent or depend positively on each other (Benjamini and Yekutieli, Ann. Statist. 29, 2001).
    /// </summary>
    /// <param name="p">p-values, 0 to 1.</param>
    /// <returns>The adjusted values, in the order of <paramref name="p"/>.</returns>
    public static double[] Adjust(ReadOnlySpan<double> p)
    {
        var values = p.ToArray();
        var order = new int[values.Length];
        for (var i = 0; i < order.Length; i++)
            order[i] = i;
        Array.Sort([.. values], order);
        var least = 1.0;
        for (var rank = order.Length; rank > 0; rank--)
        {
            ref var value = ref values[order[rank - 1]];
            least = Math.Min(least, value * order.Length / rank);
            value = least;
        }

        return values;
    }
}
