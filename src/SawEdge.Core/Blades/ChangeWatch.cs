using SawEdge.Core.Load;

namespace SawEdge.Core.Blades;

/// <summary>
/// Looks for a blade that was changed and not entered: after a stop long enough for it, the specific energy of several cuts in a
/// row steps down to what a fresh blade shows.
/// </summary>
internal sealed class ChangeWatch
{
    /// <summary>A blade is not changed in less time; common practice, no source.</summary>
    public static readonly TimeSpan LeastStop = TimeSpan.FromMinutes(4);

    /// <summary>Cuts after a stop that are looked at; by then it shows or it does not.</summary>
    public const int MostCuts = 6;

    private const int LeastCuts = 3;

    // A step of less than this is no blade that was worn before; and it must be far beyond what another bar does.
    private const double LeastStep = 0.08;
    private const double Far = 4;

    private readonly List<CutEvidence> _cuts = [];
    private readonly List<double> _steps = [];
    private RecorderMemory? _before;
    private DateTimeOffset _stoppedAt;

    /// <summary>What the saw had learned before the first cut after the stop; null where no stop is looked at.</summary>
    public RecorderMemory? Before => _before;

    /// <summary>The cuts since the stop.</summary>
    public IReadOnlyList<CutEvidence> Cuts => _cuts;

    /// <summary>End of the last cut before the stop.</summary>
    public DateTimeOffset StoppedAt => _stoppedAt;

    /// <summary>Begins to look after a stop.</summary>
    public void Begin(RecorderMemory before, DateTimeOffset stoppedAt)
    {
        End();
        (_before, _stoppedAt) = (before, stoppedAt);
    }

    /// <summary>Ends to look.</summary>
    public void End()
    {
        _before = null;
        _cuts.Clear();
        _steps.Clear();
    }

    /// <summary>Takes in a cut after the stop.</summary>
    /// <param name="evidence">The cut.</param>
    /// <param name="deviation">Level less what was expected of it before the stop.</param>
    /// <param name="spread">Standard deviation of that for a single cut.</param>
    /// <param name="sigmaBar">Scatter of the level from bar to bar.</param>
    /// <returns>Whether a blade was changed in the stop.</returns>
    public bool Add(CutEvidence evidence, double deviation, double spread, double sigmaBar)
    {
        _cuts.Add(evidence);
        if (!double.IsNaN(deviation))
            _steps.Add(deviation / Math.Max(spread, sigmaBar));
        if (_steps.Count < LeastCuts)
            return _steps.Count == 0 && _cuts.Count > MostCuts && Stop();
        var scale = Math.Max(spread, sigmaBar);

        // All cuts of one bar share its offset, so their mean is no surer than one of them.
        var mean = _steps.Average();
        var all = _steps.TrueForAll(step => step < 0.5 * mean);
        if (mean < -Far && mean * scale < -LeastStep && all)
            return true;
        return _cuts.Count > MostCuts && Stop();
    }

    private bool Stop()
    {
        End();
        return false;
    }
}
