namespace SawEdge.Core.Load;

/// <summary>One statistic: how rare its values are, and how long it has been unusual.</summary>
internal sealed class ViewChannel(TailPrior prior)
{
    // A cut is admitted once so many more were accepted after it; where something then turns out to be wrong, those that lead up
    // to it and showed what less than one normal cut in five shows are not.
    private const int Wait = 15;
    private const double Suspicious = 0.2;

    // A view that was unusual for long is heeded again once it shows what one normal cut in twenty shows.
    private const double UsualAgain = 0.05;

    private readonly Queue<(double Statistic, double PValue)> _waiting = new();
    private TailModel _tail = new(prior);

    /// <summary>Cuts in a row that were left out for it.</summary>
    public int LeftOut { get; set; }

    /// <summary>Whether it was unusual for so long that it keeps no cut from being learned from, until it is usual again.</summary>
    public bool Muted { get; set; }

    public ViewScore View(LoadView view, string what, double value, double expected, double spread, double statistic, bool isGuess = false) => new()
    {
        View = view,
        What = what,
        Value = value,
        Expected = expected,
        Spread = spread,
        Statistic = statistic,
        PValue = _tail.PValue(view == LoadView.Loop ? Math.Max(0, statistic) : Math.Abs(statistic), isGuess),
        History = _tail.History,
    };

    public void Learn(ViewScore view, double cutOff, bool isRepresentative)
    {
        LeftOut = 0;
        Muted &= view.PValue < UsualAgain;
        if (!isRepresentative)
            return;
        _waiting.Enqueue((view.Statistic, view.PValue));
        if (_waiting.Count > Wait)
            Admit(_waiting.Dequeue().Statistic, cutOff, view.View);
    }

    /// <summary>Something is wrong: what led there, and was accepted because it was not far out yet, is not what normal cuts show.</summary>
    public void Suspect()
    {
        for (var i = _waiting.Count; i > 0; i--)
        {
            var waiting = _waiting.Dequeue();
            if (waiting.PValue >= Suspicious)
                _waiting.Enqueue(waiting);
        }
    }

    private void Admit(double statistic, double cutOff, LoadView view) => _tail.Learn(view == LoadView.Loop ? Math.Max(0, statistic) : Math.Abs(statistic), cutOff);

    public void Save(MemoryWriter to)
    {
        to.Count(LeftOut);
        to.Flag(Muted);
        to.Numbers([.. _waiting.SelectMany(w => new[] { w.Statistic, w.PValue })]);
        _tail.Save(to);
    }

    public void Restore(MemoryReader from)
    {
        LeftOut = from.Count();
        Muted = from.Flag();
        _waiting.Clear();
        foreach (var two in from.Numbers().Chunk(2))
            _waiting.Enqueue((two[0], two[1]));
        _tail = TailModel.Restore(from, prior);
    }
}
