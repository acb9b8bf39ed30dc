using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.LinearAlgebra.Double;

namespace SawEdge.Core.Statistics;

/// <summary>
/// Least squares on values that come in clusters, where all that is told apart is the stratum of a value and on which of two sides it lies: the mean,
/// or the difference between the two sides within the strata. Only sums are kept.
/// </summary>
/// <remarks>
/// The variance is the bias-reduced cluster-robust one (CR2), its degrees of freedom are Satterthwaite's (Bell and McCaffrey, Survey Methodology 28, 2002;
/// Pustejovsky and Tipton, J. Bus. Econ. Statist. 36, 2018), for values that are alike within a cluster as far as the residuals show (Imbens and Kolesár, Rev. Econ.
/// Statist. 98, 2016). With few clusters, or clusters of unequal size, the plain sandwich promises too much.
/// </remarks>
public sealed class ClusteredCells
{
    // An eigenvalue below this is 0 but for rounding: the direction is wholly explained by one cluster.
    private const double Nothing = 1e-10;

    private readonly Dictionary<(int Stratum, bool Second), int> _cells = [];
    private readonly List<(int Stratum, bool Second, int Count)> _keys = [];
    private readonly Dictionary<int, List<(int Cell, int Count, double Sum)>> _clusters = [];
    private double _squares;
    private int _count;

    /// <summary>Adds a value.</summary>
    /// <param name="stratum">Its stratum.</param>
    /// <param name="second">Whether it lies on the second side.</param>
    /// <param name="cluster">Its cluster.</param>
    /// <param name="value">The value, finite; best near 0, for squares are summed.</param>
    public void Add(int stratum, bool second, int cluster, double value)
    {
        if (!_cells.TryGetValue((stratum, second), out var cell))
        {
            _cells[(stratum, second)] = cell = _keys.Count;
            _keys.Add((stratum, second, 0));
        }

        if (!_clusters.TryGetValue(cluster, out var cells))
            _clusters[cluster] = cells = new(1);
        var at = cells.FindIndex(known => known.Cell == cell);
        if (at < 0)
            cells.Add((cell, 1, value));
        else
            cells[at] = (cell, cells[at].Count + 1, cells[at].Sum + value);
        _keys[cell] = (stratum, second, _keys[cell].Count + 1);
        _squares += value * value;
        _count++;
    }

    /// <summary>The mean of all values, over strata and sides.</summary>
    public ClusteredEstimate Mean()
    {
        if (_count == 0)
            return default;
        var one = 1 / Math.Sqrt(_count);
        return Estimate([.. _keys.Select(_ => new[] { (0, one) })], 1, one);
    }

    /// <summary>The second side less the first, within the strata; strata that have only one side do not sway it.</summary>
    public ClusteredEstimate Difference()
    {
        // Which side, less its mean in the stratum: then its coefficient is found without the strata.
        var strata = _keys.GroupBy(key => key.Stratum).Select((stratum, number) => (
            stratum.Key,
            Number: number,
            Count: (double)stratum.Sum(key => key.Count),
            Second: (double)stratum.Where(key => key.Second).Sum(key => key.Count))).ToDictionary(stratum => stratum.Key);
        var side = _keys.Select(key => (key.Second ? 1 : 0) - (strata[key.Stratum].Second / strata[key.Stratum].Count)).ToArray();
        var squares = _keys.Zip(side, (key, value) => key.Count * value * value).Sum();
        if (!(squares > 0))
            return default;
        var basis = _keys.Zip(side, (key, value) => new[] { (strata[key.Stratum].Number, 1 / Math.Sqrt(strata[key.Stratum].Count)), (strata.Count, value / Math.Sqrt(squares)) });
        return Estimate([.. basis], strata.Count + 1, 1 / Math.Sqrt(squares));
    }

    /// <summary>The coefficient of the last column of an orthonormal basis, times a factor.</summary>
    /// <param name="basis">For each cell the columns that are not 0 there, ascending, the last column always among them.</param>
    /// <param name="columns">Number of columns.</param>
    /// <param name="factor">The factor.</param>
    private ClusteredEstimate Estimate((int Column, double Value)[][] basis, int columns, double factor)
    {
        var coefficients = new double[columns];
        foreach (var (cell, _, sum) in _clusters.Values.SelectMany(cells => cells))
        {
            foreach (var (column, value) in basis[cell])
                coefficients[column] += value * sum;
        }

        var fitted = basis.Select(row => row.Sum(part => part.Value * coefficients[part.Column])).ToArray();
        var (own, alike) = Covariance(coefficients, fitted);

        // In the words of Bell and McCaffrey the estimate's variance is a sum over clusters of squares of linear forms in the values; their covariances are
        // a diagonal and a product of vectors along the basis, so that no matrix as large as the number of clusters is needed.
        var spread = new double[columns, columns];
        var gram = new double[2 * columns, 2 * columns];
        var parts = new List<(double Own, (int Column, double Through, double Plain)[] Along)>(_clusters.Count);
        var variance = 0.0;
        foreach (var cells in _clusters.Values)
        {
            var weights = Weights(cells, basis, factor);
            var (score, total, squares) = (0.0, 0.0, 0.0);
            foreach (var ((cell, count, sum), weight) in cells.Zip(weights))
            {
                score += weight * (sum - (count * fitted[cell]));
                total += count * weight;
                squares += count * weight * weight;
            }

            variance += score * score;
            var touched = cells.SelectMany(of => basis[of.Cell].Select(part => part.Column)).Distinct().ToArray();
            var (through, plain, ones) = (new double[touched.Length], new double[touched.Length], new double[touched.Length]);
            foreach (var ((cell, count, _), weight) in cells.Zip(weights))
            {
                foreach (var (column, value) in basis[cell])
                {
                    var at = Array.IndexOf(touched, column);
                    through[at] += value * count * ((own * weight) + (alike * total));
                    plain[at] += value * count * weight;
                    ones[at] += value * count;
                    foreach (var (other, otherValue) in basis[cell])
                        spread[column, other] += own * count * value * otherValue;
                }
            }

            for (var i = 0; i < touched.Length; i++)
            {
                for (var j = 0; j < touched.Length; j++)
                {
                    spread[touched[i], touched[j]] += alike * ones[i] * ones[j];
                    gram[touched[i], touched[j]] += through[i] * through[j];
                    gram[touched[i], columns + touched[j]] += through[i] * plain[j];
                    gram[columns + touched[i], touched[j]] += plain[i] * through[j];
                    gram[columns + touched[i], columns + touched[j]] += plain[i] * plain[j];
                }
            }

            parts.Add(((own * squares) + (alike * total * total), [.. touched.Select((column, at) => (column, through[at], plain[at]))]));
        }

        return new ClusteredEstimate(coefficients[^1] * factor, Math.Sqrt(variance), Freedom(parts, spread, gram), _clusters.Count);
    }

    // Variance of a value on its own, and covariance of two values of a cluster, from the residuals.
    private (double Own, double Alike) Covariance(double[] coefficients, double[] fitted)
    {
        var residual = Math.Max(0, _squares - coefficients.Sum(value => value * value));
        var (products, pairs) = (-residual, -(double)_count);
        foreach (var cells in _clusters.Values)
        {
            var total = cells.Sum(of => of.Sum - (of.Count * fitted[of.Cell]));
            var count = cells.Sum(of => of.Count);
            (products, pairs) = (products + (total * total), pairs + ((double)count * count));
        }

        var variance = residual / _count;
        var alike = pairs > 0 ? Math.Clamp(products / pairs, 0, variance) : 0;
        return (variance - alike, alike);
    }

    // What each value of a cluster weighs in the estimate, cell by cell, after the adjustment (I - H)^(-1/2) of the cluster.
    private static double[] Weights(List<(int Cell, int Count, double Sum)> cells, (int Column, double Value)[][] basis, double factor)
    {
        var leverage = Matrix<double>.Build.Dense(cells.Count, cells.Count, (i, j) => (i == j ? 1 : 0) - (Math.Sqrt((double)cells[i].Count * cells[j].Count) * Product(basis[cells[i].Cell], basis[cells[j].Cell])));
        var plain = Vector<double>.Build.Dense(cells.Count, i => basis[cells[i].Cell][^1].Value * factor * Math.Sqrt(cells[i].Count));
        if (cells.Count == 1)
            return [leverage[0, 0] > Nothing ? plain[0] / Math.Sqrt(leverage[0, 0] * cells[0].Count) : 0];
        var eigen = leverage.Evd(Symmetricity.Symmetric);
        var turned = eigen.EigenVectors.TransposeThisAndMultiply(plain);
        for (var i = 0; i < turned.Count; i++)
            turned[i] = eigen.EigenValues[i].Real > Nothing ? turned[i] / Math.Sqrt(eigen.EigenValues[i].Real) : 0;
        var adjusted = eigen.EigenVectors * turned;
        return [.. adjusted.Select((value, i) => value / Math.Sqrt(cells[i].Count))];
    }

    private static double Freedom(List<(double Own, (int Column, double Through, double Plain)[] Along)> parts, double[,] spread, double[,] gram)
    {
        var columns = spread.GetLength(0);
        var (trace, squares) = (0.0, 0.0);
        foreach (var (own, along) in parts)
        {
            var shared = 0.0;
            foreach (var (column, through, plain) in along)
            {
                shared -= 2 * through * plain;
                foreach (var (other, _, otherPlain) in along)
                    shared += plain * spread[column, other] * otherPlain;
            }

            trace += own + shared;
            squares += (own * own) + (2 * own * shared);
        }

        var middle = DenseMatrix.Create(2 * columns, 2 * columns, 0);
        for (var i = 0; i < columns; i++)
        {
            middle[i, columns + i] = middle[columns + i, i] = -1;
            for (var j = 0; j < columns; j++)
                middle[columns + i, columns + j] = spread[i, j];
        }

        var product = middle * DenseMatrix.OfArray(gram);
        squares += product.PointwiseMultiply(product.Transpose()).RowSums().Sum();
        return squares > 0 ? trace * trace / squares : 0;
    }

    private static double Product((int Column, double Value)[] a, (int Column, double Value)[] b)
    {
        var sum = 0.0;
        foreach (var (column, value) in a)
        {
            foreach (var (other, otherValue) in b)
                sum += column == other ? value * otherValue : 0;
        }

        return sum;
    }
}
