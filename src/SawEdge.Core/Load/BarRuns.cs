namespace SawEdge.Core.Load;

/// <summary>
/// Whether the level has moved over the last bars together: the greatest of sum(z) / sqrt(m) over the last m bars, which for a
/// change that lasts grows with every bar (a generalised likelihood ratio over the moment of change, as in Lorden, Ann. Math.
/// Statist. 42, 1971). A bar's own offset is no change, so bars count and not cuts; and what lasts shows in every one of them.
/// </summary>
internal sealed class BarRuns
{
    private const int MostBars = 8;

    // A bar that nobody tells from the next is taken as ended after so many cuts.
    private const int MostCuts = 24;

    // A bar that shows less than this, in standard deviations, shows no change.
    private const double LeastShift = 0.7;

    private readonly List<(double Sum, double Count)> _bars = new(MostBars);
    private string _bar = "";

    /// <summary>The statistic with a further cut, signed, in standard deviations; 0 where there is only one bar.</summary>
    /// <param name="bar">Bar of the cut.</param>
    /// <param name="deviation">Its level less what is expected of a bar of which nothing is known.</param>
    /// <param name="sigmaBar">Scatter from bar to bar.</param>
    /// <param name="sigmaCut">Scatter from cut to cut.</param>
    /// <param name="levelSd">Standard deviation of the expectation itself.</param>
    public double With(string bar, double deviation, double sigmaBar, double sigmaCut, double levelSd)
    {
        var open = bar == _bar && _bars.Count > 0 && _bars[^1].Count < MostCuts;
        var (sum, variance, best) = (0.0, 0.0, 0.0);
        var bars = _bars.Count - (open ? 1 : 0);
        var current = open ? (Sum: _bars[^1].Sum + deviation, Count: _bars[^1].Count + 1) : (Sum: deviation, Count: 1);
        for (var m = 0; m <= bars; m++)
        {
            var (total, count) = m == 0 ? current : _bars[bars - m];
            var own = (sigmaBar * sigmaBar) + (sigmaCut * sigmaCut / count);
            var alone = total / count / Math.Sqrt(own);
            if (Math.Abs(alone) < LeastShift || (m > 0 && Math.Sign(alone) != Math.Sign(deviation)))
                break;

            // Each bar counts by how well its mean is known: the weighted mean and its variance.
            sum += total / count / own;
            variance += 1 / own;
            if (m == 0)
                continue;
            var z = sum / variance / Math.Sqrt((1 / variance) + (levelSd * levelSd));
            if (Math.Abs(z) > Math.Abs(best))
                best = z;
        }

        return best;
    }

    /// <summary>Takes a cut in.</summary>
    public void Add(string bar, double deviation)
    {
        if (bar == _bar && _bars.Count > 0 && _bars[^1].Count < MostCuts)
        {
            _bars[^1] = (_bars[^1].Sum + deviation, _bars[^1].Count + 1);
            return;
        }

        _bar = bar;
        if (_bars.Count == MostBars)
            _bars.RemoveAt(0);
        _bars.Add((deviation, 1));
    }

    /// <summary>Forgets what was before a change of the blade.</summary>
    public void Clear() => _bars.Clear();

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Text(_bar);
        to.Numbers([.. _bars.SelectMany(b => new[] { b.Sum, b.Count })]);
    }

    /// <summary>Goes on from what was written down.</summary>
    public void Restore(MemoryReader from)
    {
        _bar = from.Text();
        _bars.Clear();
        _bars.AddRange(from.Numbers().Chunk(2).Select(two => (two[0], two[1])));
    }
}
