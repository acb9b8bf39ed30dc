namespace SawEdge.Core.Comparison;

/// <summary>
/// Parts the cuts of one saw into runs: those of one job with one blade in one go, that is without a pause of <see cref="Pause"/>, without other work in between for
/// <see cref="OtherWork"/>, and over no more than <see cref="Longest"/>. Cuts of a run share stock, settings and hands, so they say less than as many cuts of different runs.
/// </summary>
/// <param name="first">Number of the first run.</param>
public sealed class RunTracker(int first = 0)
{
    /// <summary>A pause after which a job begins a new run. Judgement, no source.</summary>
    public static readonly TimeSpan Pause = TimeSpan.FromHours(2);

    /// <summary>How long other jobs were cut before a job begins a new run, for it was set up anew. Jobs that take turns cut by cut go on. Judgement, no source.</summary>
    public static readonly TimeSpan OtherWork = TimeSpan.FromMinutes(15);

    /// <summary>The longest run: a shift. Judgement, no source.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromHours(8);

    private readonly Dictionary<(string Job, string Blade), (int Run, DateTimeOffset Began, DateTimeOffset Last)> _open = [];
    private (string Job, string Blade) _last;
    private DateTimeOffset _swept;

    /// <summary>Number of the next run.</summary>
    public int Next { get; private set; } = first;

    /// <summary>The run of a cut. Cuts come in the order of their starts.</summary>
    /// <param name="job">Its job.</param>
    /// <param name="blade">Its blade.</param>
    /// <param name="startedAt">When its cycle began.</param>
    /// <param name="endedAt">When its cycle ended.</param>
    public int RunOf(string job, string blade, DateTimeOffset startedAt, DateTimeOffset endedAt)
    {
        Sweep(startedAt);
        var pause = _last == (job, blade) ? Pause : OtherWork;
        var run = _open.TryGetValue((job, blade), out var open) && startedAt - open.Last < pause && startedAt - open.Began < Longest
            ? open with { Last = endedAt }
            : (Run: Next++, Began: startedAt, Last: endedAt);
        _last = (job, blade);
        _open[_last] = run;
        return run.Run;
    }

    // Jobs come and go without end.
    private void Sweep(DateTimeOffset now)
    {
        if (now - _swept < Longest)
            return;
        _swept = now;
        foreach (var (key, _) in _open.Where(open => now - open.Value.Last >= Pause).ToList())
            _open.Remove(key);
    }
}
