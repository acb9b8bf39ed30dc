namespace SawEdge.Core.Notation;

/// <summary>How far apart two names that people write are.</summary>
public static class EditDistance
{
    /// <summary>
    /// Characters put in, left out, replaced, or changed round with their neighbour, as few as lead from one name to the other
    /// (optimal string alignment: Damerau 1964 with each stretch changed once). Capitals count as differences.
    /// </summary>
    /// <param name="a">One name.</param>
    /// <param name="b">The other.</param>
    public static int Between(string a, string b)
    {
        var rows = new int[3][];
        for (var k = 0; k < rows.Length; k++)
            rows[k] = new int[b.Length + 1];
        var (before, above, row) = (rows[0], rows[1], rows[2]);
        for (var j = 0; j <= b.Length; j++)
            row[j] = j;
        for (var i = 1; i <= a.Length; i++)
        {
            (before, above, row) = (above, row, before);
            row[0] = i;
            for (var j = 1; j <= b.Length; j++)
            {
                row[j] = Math.Min(Math.Min(above[j], row[j - 1]) + 1, above[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1));
                if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                    row[j] = Math.Min(row[j], before[j - 2] + 1);
            }
        }

        return row[b.Length];
    }
}
