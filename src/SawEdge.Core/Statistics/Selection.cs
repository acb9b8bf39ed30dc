namespace SawEdge.Core.Statistics;

/// <summary>Finds the value of a rank without ordering everything.</summary>
internal static class Selection
{
    /// <summary>
    /// Reorders so that the value of a rank stands in its place, none greater before it and none smaller after it (Hoare 1961).
    /// </summary>
    /// <param name="values">The values, none NaN.</param>
    /// <param name="rank">The rank, from 0.</param>
    /// <returns>The value of that rank.</returns>
    public static double Select(Span<double> values, int rank)
    {
        var (low, high) = (0, values.Length - 1);

        // An order made to defeat the choice of the pivot would take a time that grows with the square; ordering does not.
        for (var patience = 64; low < high; patience--)
        {
            if (patience == 0 || high - low < 16)
            {
                values[low..(high + 1)].Sort();
                break;
            }

            var pivot = MedianOfThree(values[low], values[low + ((high - low) / 2)], values[high]);
            var (i, j) = (low, high);
            while (i <= j)
            {
                while (values[i] < pivot)
                    i++;
                while (values[j] > pivot)
                    j--;
                if (i <= j)
                {
                    (values[i], values[j]) = (values[j], values[i]);
                    i++;
                    j--;
                }
            }

            if (rank <= j)
                high = j;
            else if (rank >= i)
                low = i;
            else
                break;
        }

        return values[rank];
    }

    /// <summary>The greatest of at least one value.</summary>
    public static double Greatest(ReadOnlySpan<double> values)
    {
        var greatest = values[0];
        foreach (var value in values)
            greatest = Math.Max(greatest, value);
        return greatest;
    }

    private static double MedianOfThree(double a, double b, double c) => Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), c));
}
