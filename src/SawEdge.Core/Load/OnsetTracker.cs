namespace SawEdge.Core.Load;

/// <summary>How a level that is unusual now became so: what tells a dull blade from a bar of another material.</summary>
internal sealed class OnsetTracker
{
    private const int Kept = 12;

    private readonly List<(double Deviation, double Spread)> _recent = new(Kept);
    private string _bar = "";
    private bool _unusual;

    /// <summary>Cuts in a row whose level was unusual.</summary>
    public int Run { get; private set; }

    /// <summary>Bars that the run has seen, the present one included.</summary>
    public int Bars { get; private set; }

    /// <summary>Whether the run began with a bar's first cut.</summary>
    public bool AtBar { get; private set; }

    /// <summary>Whether the level jumped when the run began, rather than creeping up.</summary>
    public bool Sudden { get; private set; }

    /// <summary>By how much the level has risen over the cuts before the present one; 0 while there are few.</summary>
    public double Rise => _recent.Count < 6 ? 0 : Mean(_recent.Count / 2, _recent.Count) - Mean(0, _recent.Count / 2);

    /// <summary>Takes note of a cut's level.</summary>
    /// <param name="bar">Its bar.</param>
    /// <param name="deviation">Level less what the blade lets expect of a bar of which nothing is known.</param>
    /// <param name="spread">Standard deviation of that.</param>
    /// <param name="unusual">Whether it is unusual.</param>
    public void Note(string bar, double deviation, double spread, bool unusual)
    {
        var newBar = bar != _bar;
        if (unusual && !_unusual)
        {
            var before = _recent.Count == 0 ? 0 : Mean(Math.Max(0, _recent.Count - 4), _recent.Count);
            (Run, Bars, AtBar, Sudden) = (1, 1, newBar, Math.Abs(deviation - before) > 0.6 * Math.Abs(deviation));
        }
        else if (unusual)
        {
            Run++;
            Bars += newBar ? 1 : 0;
        }
        else
        {
            (Run, Bars) = (0, 0);
        }

        _unusual = unusual;
        _bar = bar;
        if (_recent.Count == Kept)
            _recent.RemoveAt(0);
        _recent.Add((deviation, spread));
    }

    /// <summary>Forgets what another blade did.</summary>
    public void Clear()
    {
        _recent.Clear();
        _unusual = false;
        (Run, Bars) = (0, 0);
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Text(_bar);
        to.Flag(_unusual);
        to.Count(Run);
        to.Count(Bars);
        to.Flag(AtBar);
        to.Flag(Sudden);
        to.Numbers([.. _recent.SelectMany(r => new[] { r.Deviation, r.Spread })]);
    }

    /// <summary>Goes on from what was written down.</summary>
    public void Restore(MemoryReader from)
    {
        _bar = from.Text();
        _unusual = from.Flag();
        Run = from.Count();
        Bars = from.Count();
        AtBar = from.Flag();
        Sudden = from.Flag();
        _recent.Clear();
        _recent.AddRange(from.Numbers().Chunk(2).Select(two => (two[0], two[1])));
    }

    private double Mean(int from, int to)
    {
        var sum = 0.0;
        for (var i = from; i < to; i++)
            sum += _recent[i].Deviation;
        return sum / (to - from);
    }
}
