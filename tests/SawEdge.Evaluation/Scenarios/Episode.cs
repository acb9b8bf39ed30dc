using SawEdge.Evaluation.Population;

namespace SawEdge.Evaluation.Scenarios;

/// <summary>One fault at one saw, from its first cycle to its last, and what was said of it.</summary>
internal sealed class Episode(FaultCell cell, SawDraw draw)
{
    private readonly SortedDictionary<string, int> _named = new(StringComparer.Ordinal);

    public FaultCell Cell => cell;

    public Mapping Mapping => draw.Mapping;

    public double IntervalS => draw.Interval.TotalSeconds;

    public long FirstCycle { get; set; }

    public long LastCycle { get; set; }

    /// <summary>Cuts with a record.</summary>
    public int Cuts { get; private set; }

    /// <summary>Whether a cut reached the score, or a fitting live finding came.</summary>
    public bool IsFound => CutsUntilFound is not null;

    /// <summary>In which cut of the episode it was found, from 1.</summary>
    public int? CutsUntilFound { get; private set; }

    /// <summary>First-ranked cause in the cut in which it was found.</summary>
    public string CauseAtCall { get; private set; } = "";

    /// <summary>First-ranked cause that was named most in the found cuts of the episode.</summary>
    public string CauseInTheEnd => _named.Count == 0 ? CauseAtCall : _named.MaxBy(pair => pair.Value).Key;

    /// <summary>When what a live finding speaks of began.</summary>
    public DateTimeOffset? Moment { get; set; }

    /// <summary>First frame at which the evidence is there; null where it never was.</summary>
    public long? EvidenceFrame { get; set; }

    /// <summary>Frame of the first fitting live finding; null where none came.</summary>
    public long? FindingFrame { get; private set; }

    /// <summary>From the moment itself to the finding, s.</summary>
    public double? FindingDelayS { get; private set; }

    public bool IsRight => cell.Causes.Contains(CauseAtCall);

    public bool IsRightInTheEnd => cell.Causes.Contains(CauseInTheEnd);

    /// <summary>Takes a fitting live finding.</summary>
    public void Find(long cycle, long frame, DateTimeOffset at, string cause)
    {
        CutsUntilFound ??= (int)(cycle - FirstCycle + 1);
        if (FindingFrame is not null)
            return;
        FindingFrame = frame;
        FindingDelayS = Moment is { } moment ? (at - moment).TotalSeconds : null;
        if (CauseAtCall.Length == 0)
            CauseAtCall = cause;
    }

    /// <summary>Takes a record.</summary>
    public void Take(long cycle, bool called, string cause)
    {
        Cuts++;
        if (!called)
            return;
        var into = (int)(cycle - FirstCycle + 1);
        if (CutsUntilFound is null || (CutsUntilFound == into && CauseAtCall.Length == 0))
            CauseAtCall = cause;
        CutsUntilFound ??= into;
        if (cause.Length > 0)
            _named[cause] = _named.GetValueOrDefault(cause) + 1;
    }
}
