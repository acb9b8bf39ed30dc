using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.LinearAlgebra.Double;

namespace SawEdge.Core.Statistics;

/// <summary>
/// Least squares on values that come in clusters, where all that is told apart is the stratum of a value and on which of two sides it lies: the mean,
/// or the difference between the two sides within the strata. Only sums are kept. The clusters are weighed as if their values were alike to the degree that the
/// residuals show; the interval holds without it.
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

    /// <summary>The mean over all strata and sides, in which a value of a large cluster counts the less the more alike its values are.</summary>
    public ClusteredEstimate Mean() => Estimate(MeanBasis);

    /// <summary>The second side less the first, within the strata; weighed as <see cref="Mean"/>. Strata that have only one side do not sway it.</summary>
    public ClusteredEstimate Difference() => Estimate(DifferenceBasis);

    // An orthonormal basis of what is told apart: for each cell the columns that are not 0 there, the last column always among them. The estimate is the coefficient
    // of the last column, times the factor.
    private Basis? MeanBasis(double[] weights)
    {
        var one = 1 / Math.Sqrt(weights.Sum());
        return _count == 0 ? null : new Basis([.. _keys.Select(_ => new[] { (0, one) })], 1, one);
    }

    private Basis? DifferenceBasis(double[] weights)
    {
        // Which side, less its mean in the stratum: then its coefficient is found without the strata.
        var strata = _keys.Zip(weights).GroupBy(key => key.First.Stratum).Select((stratum, number) => (
            stratum.Key,
            Number: number,
            All: stratum.Sum(key => key.Second),
            Second: stratum.Where(key => key.First.Second).Sum(key => key.Second))).ToDictionary(stratum => stratum.Key);
        var side = _keys.Select(key => (key.Second ? 1 : 0) - (strata[key.Stratum].Second / strata[key.Stratum].All)).ToArray();
        var squares = weights.Zip(side, (weight, value) => weight * value * value).Sum();
        if (!(squares > 0))
            return null;
        var cells = _keys.Zip(side, (key, value) => new[] { (strata[key.Stratum].Number, 1 / Math.Sqrt(strata[key.Stratum].All)), (strata.Count, value / Math.Sqrt(squares)) });
        return new Basis([.. cells], strata.Count + 1, 1 / Math.Sqrt(squares));
    }

    private ClusteredEstimate Estimate(Func<double[], Basis?> make)
    {
        // First all values count alike; how alike those of a cluster turn out to be says what each is worth.
        var weights = _clusters.Values.Select(_ => 1.0).ToArray();
        if (make(OfCells(weights)) is not { } plain)
            return default;
        var (own, alike) = Covariance(plain);
        var (at, whole) = (0, own + alike);
        foreach (var cells in _clusters.Values)
            weights[at++] = whole > 0 ? whole / (own + (alike * cells.Sum(of => of.Count))) : 1;
        return Estimate(make(OfCells(weights))!, weights, own, alike);
    }

    private double[] OfCells(double[] weights)
    {
        var sums = new double[_keys.Count];
        foreach (var (cells, weight) in _clusters.Values.Zip(weights))
        {
            foreach (var (cell, count, _) in cells)
                sums[cell] += weight * count;
        }

        return sums;
    }

    private double[] Coefficients(Basis basis, double[]? weights)
    {
        var coefficients = new double[basis.Columns];
        var at = 0;
        foreach (var cells in _clusters.Values)
        {
            var weight = weights?[at++] ?? 1;
            foreach (var (cell, _, sum) in cells)
            {
                foreach (var (column, value) in basis.Cells[cell])
                    coefficients[column] += weight * value * sum;
            }
        }

        return coefficients;
    }

    private ClusteredEstimate Estimate(Basis basis, double[] clusterWeights, double own, double alike)
    {
        var columns = basis.Columns;
        var coefficients = Coefficients(basis, clusterWeights);
        var fitted = basis.Fitted(coefficients);

        // In the words of Bell and McCaffrey the estimate's variance is a sum over clusters of squares of linear forms in the values; their covariances are
        // a diagonal and a product of vectors along the basis, so that no matrix as large as the number of clusters is needed. A value that is worth w
        // enters times the root of w, as always in weighted least squares.
        var spread = new double[columns, columns];
        var gram = new double[2 * columns, 2 * columns];
        var parts = new List<(double Own, (int Column, double Through, double Plain)[] Along)>(_clusters.Count);
        var variance = 0.0;
        foreach (var (cells, worth) in _clusters.Values.Zip(clusterWeights))
        {
            var root = Math.Sqrt(worth);
            var (itsOwn, itsAlike) = (worth * own, worth * alike);
            var weights = Weights(cells, basis, root);
            var (score, total, squares) = (0.0, 0.0, 0.0);
            foreach (var ((cell, count, sum), weight) in cells.Zip(weights))
            {
                score += weight * root * (sum - (count * fitted[cell]));
                total += count * weight;
                squares += count * weight * weight;
            }

            variance += score * score;
            var touched = cells.SelectMany(of => basis.Cells[of.Cell].Select(part => part.Column)).Distinct().ToArray();
            var (through, plain, ones) = (new double[touched.Length], new double[touched.Length], new double[touched.Length]);
            foreach (var ((cell, count, _), weight) in cells.Zip(weights))
            {
                foreach (var (column, value) in basis.Cells[cell])
                {
                    var at = Array.IndexOf(touched, column);
                    through[at] += root * value * count * ((itsOwn * weight) + (itsAlike * total));
                    plain[at] += root * value * count * weight;
                    ones[at] += root * value * count;
                    foreach (var (other, otherValue) in basis.Cells[cell])
                        spread[column, other] += worth * itsOwn * count * value * otherValue;
                }
            }

            for (var i = 0; i < touched.Length; i++)
            {
                for (var j = 0; j < touched.Length; j++)
                {
                    spread[touched[i], touched[j]] += itsAlike * ones[i] * ones[j];
                    gram[touched[i], touched[j]] += through[i] * through[j];
                    gram[touched[i], columns + touched[j]] += through[i] * plain[j];
                    gram[columns + touched[i], touched[j]] += plain[i] * through[j];
                    gram[columns + touched[i], columns + touched[j]] += plain[i] * plain[j];
                }
            }

            parts.Add(((itsOwn * squares) + (itsAlike * total * total), [.. touched.Select((column, at) => (column, through[at], plain[at]))]));
        }

        return new ClusteredEstimate(coefficients[^1] * basis.Factor, Math.Sqrt(variance), Freedom(parts, spread, gram), _clusters.Count);
    }

    // Variance of a value on its own, and covariance of two values of a cluster, from the residuals.
    private (double Own, double Alike) Covariance(Basis basis)
    {
        var coefficients = Coefficients(basis, null);
        var fitted = basis.Fitted(coefficients);
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
    private static double[] Weights(List<(int Cell, int Count, double Sum)> cells, Basis basis, double root)
    {
        var leverage = Matrix<double>.Build.Dense(cells.Count, cells.Count, (i, j) => (i == j ? 1 : 0) - (root * root * Math.Sqrt((double)cells[i].Count * cells[j].Count) * Product(basis.Cells[cells[i].Cell], basis.Cells[cells[j].Cell])));
        var plain = Vector<double>.Build.Dense(cells.Count, i => root * basis.Cells[cells[i].Cell][^1].Value * basis.Factor * Math.Sqrt(cells[i].Count));
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

    private sealed record Basis((int Column, double Value)[][] Cells, int Columns, double Factor)
    {
        public double[] Fitted(double[] coefficients) => [.. Cells.Select(row => row.Sum(part => part.Value * coefficients[part.Column]))];
    }
}
