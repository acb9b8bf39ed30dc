using MathNet.Numerics.Statistics;
using SawEdge.Simulator.Randomness;

namespace SawEdge.Evaluation.Datasets;

/// <summary>How well a measure orders things.</summary>
internal static class RankStatistics
{
    /// <summary>Spearman's rank correlation, ties by their mean rank.</summary>
    public static double Spearman(IReadOnlyList<double> measure, IReadOnlyList<double> truth) => Correlation.Spearman(measure, truth);

    /// <summary>Area under the curve: chance that a positive one is ranked above a negative one, ties half (Mann and Whitney 1947).</summary>
    public static double Area(IReadOnlyList<double> measure, IReadOnlyList<bool> positive)
    {
        var ranks = ArrayStatistics.RanksInplace([.. measure], RankDefinition.Average);
        double sum = 0;
        long count = 0;
        for (var i = 0; i < ranks.Length; i++)
        {
            if (!positive[i])
                continue;
            sum += ranks[i];
            count++;
        }

        var others = ranks.Length - count;
        return count == 0 || others == 0 ? double.NaN : (sum - (count * (count + 1) / 2.0)) / (count * (double)others);
    }

    /// <summary>Share of random labellings with an area at least as great, the real one counted in (Phipson and Smyth 2010).</summary>
    public static double PermutationP(IReadOnlyList<double> measure, IReadOnlyList<bool> positive, int times)
    {
        var random = new Xoshiro256(20_260_302);
        var real = Area(measure, positive);
        bool[] labels = [.. positive];
        var asGreat = 1;
        for (var t = 0; t < times; t++)
        {
            for (var i = labels.Length - 1; i > 0; i--)
            {
                var j = (int)(random.Uniform() * (i + 1));
                (labels[i], labels[j]) = (labels[j], labels[i]);
            }

            if (Area(measure, labels) >= real - 1e-12)
                asGreat++;
        }

        return asGreat / (times + 1.0);
    }
}
