namespace SawEdge.Core.Cycles;

/// <summary>One cycle bit over many cuts, and no head position to part them: the load and the part counter do.</summary>
public sealed partial class CycleDetector
{
    // Longer than a motor's inrush.
    private const long LastingLoadTicks = 35 * TimeSpan.TicksPerSecond / 10;
    private const long LeastPauseTicks = 2 * TimeSpan.TicksPerSecond;
    private const long FirstLookTicks = 300 * TimeSpan.TicksPerSecond;

    private readonly List<(int First, int Last)> _runs = [];
    private bool _spans;
    private double _runThresholdKw = double.NaN;
    private bool _inRun;
    private long _runStart;
    private long _runEnd;
    private long _risenAt;
    private long _fellAt;
    private long _nextLook;

    private void ForgetRuns()
    {
        _inRun = false;
        _runStart = _runEnd = _risenAt = _fellAt = 0;
        _nextLook = FirstLookTicks;
    }

    // The sample at which this cycle and the next part, or -1.
    private int NextCutByLoad(in Sample sample)
    {
        if (!LastingLoadBegins(sample))
            return -1;
        if (_runEnd == 0 || _risenAt - _runEnd < LeastPauseTicks || !RunWasACut())
        {
            _runStart = _runStart == 0 ? _risenAt : _runStart;
            return -1;
        }

        _spans = true;
        return FirstAfter(_runEnd + ((_risenAt - _runEnd) / 2));
    }

    // Follows the load through the cycle; true once for each stretch, as soon as it is too long for an inrush.
    private bool LastingLoadBegins(in Sample sample)
    {
        if (double.IsNaN(_runThresholdKw) || float.IsNaN(sample.Load))
            return false;
        if (sample.Load <= _runThresholdKw)
        {
            _risenAt = 0;
            if (_inRun && _fellAt == 0)
                _fellAt = sample.Ticks;
            if (_inRun && sample.Ticks - _fellAt >= TimeSpan.TicksPerSecond)
            {
                _inRun = false;
                _runEnd = _fellAt;
            }

            return false;
        }

        _fellAt = 0;
        if (_risenAt == 0)
            _risenAt = sample.Ticks;
        if (_inRun || sample.Ticks - _risenAt < LastingLoadTicks)
            return false;
        _inRun = true;
        return true;
    }

    // What the kept trace already holds of the new cycle's load.
    private void FollowKeptLoad()
    {
        ForgetRuns();
        foreach (ref readonly var sample in _trace.Samples)
        {
            if (LastingLoadBegins(sample))
                _runStart = _runStart == 0 ? _risenAt : _runStart;
        }
    }

    // The counter rose before anything was known of the load: the run that it counted is the one just analysed.
    private void NoteRun(in CutFacts cut)
    {
        var samples = _trace.Samples;
        Span<float> scratch = stackalloc float[256];
        if (!cut.UsedLoad)
            return;
        LearnThreshold(TraceMath.MedianLoad(samples, cut.First, cut.Last + 1, scratch), cut.IdleKw);
        (_runStart, _runEnd) = (samples[cut.First].Ticks, samples[cut.Last].Ticks);
        _inRun = false;
    }

    private void LearnThreshold(double levelKw, double idleKw)
    {
        var threshold = idleKw + (0.3 * (levelKw - idleKw));
        if (!double.IsNaN(threshold))
            _runThresholdKw = threshold;
    }

    // A pause after a whole cut is handling, one after less is a feed hold.
    private bool RunWasACut()
    {
        if (_settling is null && _counter.RiseSinceMark > 0)
            return true;
        var usual = _cycleJob == _usualJob ? _usualCutSeconds : double.NaN;
        return _spans && !(Seconds(_runEnd - _runStart) < 0.85 * usual);
    }

    // Before anything is known of the saw: a cycle with several stretches of load of like length is several cuts.
    private void PartByLikeRuns(bool ended)
    {
        if (_counter.Value is not null || !_cycleBitInCycle)
            return;
        while (FindRuns(ended) is var last && last >= 0)
        {
            _spans = true;
            var samples = _trace.Samples;
            var middle = samples[_runs[last].Last].Ticks + ((samples[_runs[last + 1].First].Ticks - samples[_runs[last].Last].Ticks) / 2);
            Part(FirstAfter(middle), byCycleBit: true);
        }
    }

    // One cycle ends and the next begins at a sample.
    private void Part(int index, bool byCycleBit)
    {
        var at = _trace.Samples[index].Ticks;
        Close(index, at, Closing.Seen, keepTraceFrom: index);
        Open(FirstAfter(at), startSeen: true, byCycleBit);
        _startTicks = at;
    }

    // The last run of the first cut where the stretches of load in the trace are several cuts; -1 where they are one.
    private int FindRuns(bool ended)
    {
        _runs.Clear();
        var facts = Analyse(_trace.Count);
        if (!facts.HasCut || facts.UsedHead || !facts.UsedLoad)
            return -1;
        var samples = _trace.Samples;
        Span<float> scratch = stackalloc float[256];
        var threshold = facts.IdleKw + (0.3 * (TraceMath.MedianLoad(samples, facts.First, facts.Last + 1, scratch) - facts.IdleKw));
        var first = -1;
        var last = -1;
        for (var i = facts.First; i <= facts.Last; i++)
        {
            if (!(samples[i].Load > threshold))
                continue;
            if (first >= 0 && samples[i].Ticks - samples[last].Ticks >= LeastPauseTicks)
            {
                AddRun(samples, first, last);
                first = i;
            }

            first = first < 0 ? i : first;
            last = i;
        }

        if (first >= 0)
            AddRun(samples, first, last);
        var usual = _spans && _cycleJob == _usualJob ? _usualCutSeconds : LikeLength(samples, ended ? _runs.Count : _runs.Count - 1);
        if (double.IsNaN(usual))
            return -1;

        // What a hold took apart belongs together.
        var sum = 0.0;
        for (var i = 0; i + 1 < _runs.Count; i++)
        {
            sum += Seconds(LengthOf(samples, i));
            if (sum >= 0.85 * usual)
                return i;
        }

        return -1;
    }

    // Most of the stretches alike, give or take a hold or a trim: cuts. Two could be a hold in the middle of one.
    private double LikeLength(ReadOnlySpan<Sample> samples, int whole)
    {
        if (whole < 2)
            return double.NaN;
        Span<float> lengths = stackalloc float[Math.Min(whole, 128)];
        for (var i = 0; i < lengths.Length; i++)
            lengths[i] = (float)Seconds(LengthOf(samples, i));
        var least = _runs.Count == 2 ? 0.92 : 0.85;
        var median = TraceMath.Median(lengths);
        var like = 0;
        foreach (var length in lengths)
            like += length >= least * median && length <= median / least ? 1 : 0;
        return like >= Math.Max(2, 0.6 * lengths.Length) ? median : double.NaN;
    }

    private long LengthOf(ReadOnlySpan<Sample> samples, int run) => samples[_runs[run].Last].Ticks - samples[_runs[run].First].Ticks;

    private void AddRun(ReadOnlySpan<Sample> samples, int first, int last)
    {
        if (samples[last].Ticks - samples[first].Ticks >= LastingLoadTicks)
            _runs.Add((first, last));
    }
}
