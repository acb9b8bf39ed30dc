namespace SawEdge.Core.Cycles;

/// <summary>Where a cycle begins and ends.</summary>
public sealed partial class CycleDetector
{
    /// <summary>A head within that of where it stood has not begun to go down.</summary>
    private const float StandsMm = 0.5f;

    private const long CuttingBitGapTicks = 2 * TimeSpan.TicksPerSecond;
    private const long LongestStopTicks = 600 * TimeSpan.TicksPerSecond;

    private bool _open;
    private long _cycles;
    private bool _cycleBitInCycle;
    private bool _startSeen;
    private long _startTicks;
    private long _stopTicks;
    private long _cuttingFellTicks;
    private float _lowest = float.NaN;
    private float _highestSinceLowest = float.NaN;
    private long _highestTicks;
    private float _headAtOpen = float.NaN;
    private float _lowestAtStop;
    private bool _checkedTop;
    private long _splitTicks;
    private float _idleTop = float.NaN;
    private float _idleTopBefore = float.NaN;
    private long _idleTopSince;
    private bool _cycleBitWasOff;
    private float _head1 = float.NaN;
    private float _head2 = float.NaN;

    // Where the head stood between cycles: the highest of the last minute or two.
    private float IdleTop => float.IsNaN(_idleTopBefore) ? _idleTop : Math.Max(_idleTop, _idleTopBefore);

    // Between cycles: keep a minute of samples, and open a cycle when a bit rises or the head goes down.
    private void Watch(in Sample sample)
    {
        _trace.Add(sample);
        if (_trace.Count > 64 && _trace.Samples[0].Ticks < sample.Ticks - (2 * IdleTraceTicks))
            _trace.DropBefore(FirstAfter(sample.Ticks - IdleTraceTicks));
        var head = Steady(sample.Head);
        if (sample.Is(SampleFlags.Cycle))
        {
            Open(_trace.Count - 1, _cycleBitWasOff, byCycleBit: true);
            return;
        }

        if (sample.Is(SampleFlags.CycleKnown))
            _cycleBitWasOff = true;
        if (sample.Is(SampleFlags.Cutting))
        {
            Open(DescentStart(), startSeen: _trace.Count > 1, byCycleBit: false);
            return;
        }

        if (float.IsNaN(head))
            return;
        if (float.IsNaN(_idleTop) || sample.Ticks - _idleTopSince > IdleTraceTicks)
        {
            _idleTopBefore = _idleTop;
            _idleTop = head;
            _idleTopSince = sample.Ticks;
        }

        _idleTop = Math.Max(_idleTop, head);
        if (head < IdleTop - DescentMm)
            Open(DescentStart(), startSeen: _trace.Count > 1, byCycleBit: false);
    }

    private int FirstAfter(long ticks)
    {
        var samples = _trace.Samples;
        var i = 0;
        while (i < samples.Length && samples[i].Ticks < ticks)
            i++;
        return i;
    }

    private int DescentStart()
    {
        var highest = float.NaN;
        foreach (ref readonly var sample in _trace.Samples)
        {
            if (!(sample.Head <= highest) && !float.IsNaN(sample.Head))
                highest = sample.Head;
        }

        return float.IsNaN(highest) ? _trace.Count - 1 : Math.Max(0, _trace.LastAtOrAbove(highest - StandsMm));
    }

    // The trace keeps a little of what was before, so that edges at the very start have something to rise from. Nothing is of a cycle that came before
    // the clock was set back: the time of such a sample is not that of its frame any more.
    private void Open(int startIndex, bool startSeen, bool byCycleBit)
    {
        startIndex = Math.Clamp(Math.Max(startIndex, FirstAfter(_offsetSince)), 0, _trace.Count - 1);
        if (startSeen)
            SettleAccountAtStart();

        _open = true;
        _cycles++;
        _startSeen = startSeen;
        _startTicks = _trace.Samples[startIndex].Ticks;
        var leadIn = LeadIn(startIndex);
        _trace.DropBefore(leadIn);
        _cycleBitInCycle = byCycleBit;
        _stopTicks = 0;
        _splitTicks = 0;
        _cuttingFellTicks = 0;
        _clockStepped = false;
        _faultAtOpen = _fault;
        _faultInCycle = 0;
        _lowest = _highestSinceLowest = float.NaN;
        _headAtOpen = float.NaN;
        _checkedTop = false;
        _cycleMode = _mode;
        _cycleJob = _job;
        _cycleBar = _barId;
        _cycleBlade = _bladeId;
        _jobSettled = false;
        FollowKeptLoad();
        if (_settling is null)
            _counter.Mark();

        // Where frames come seldom, the one before may show the head in the stock of the cycle before.
        foreach (ref readonly var sample in _trace.Samples[(startIndex - leadIn)..])
            FollowHead(sample.Head, sample.Ticks);
    }

    // Up to two samples before a cycle, but none from beyond a gap: that is of another cycle, whose cut would be taken for one of this. Nor from before
    // the clock was set back.
    private int LeadIn(int index)
    {
        var samples = _trace.Samples;
        var near = Math.Max(TimeSpan.TicksPerSecond, 3 * _usualTicks);
        var first = Math.Min(index, samples.Length - 1);
        while (first > 0 && first > index - 2 && samples[first].Ticks - samples[first - 1].Ticks <= near && samples[first - 1].Ticks >= _offsetSince)
            first--;
        return Math.Max(0, first);
    }

    private void Follow(in Sample sample)
    {
        _trace.Add(sample);
        var head = Steady(sample.Head);
        FollowHead(head, sample.Ticks);
        FollowTexts(sample, head);

        if (sample.Is(SampleFlags.Cycle) && !_cycleBitInCycle)
        {
            // An automatic cycle begins: what moved before it was a jog, unless something was being cut.
            if (!Analyse(_trace.Count).HasCut)
            {
                Open(_trace.Count - 1, startSeen: true, byCycleBit: true);
                return;
            }

            _cycleBitInCycle = true;
        }

        var splits = CutIsOverAndNextBegins(sample, head);
        if (splits >= 0 && _trace.Samples[splits].Ticks > _startTicks)
        {
            Part(splits, sample.Is(SampleFlags.Cycle));
            return;
        }

        if (_cycleBitInCycle)
            FollowCycleBit(sample, head);
        else
            FollowWithoutCycleBit(sample, head);
    }

    private void FollowHead(float head, long ticks)
    {
        if (float.IsNaN(head))
            return;
        if (float.IsNaN(_headAtOpen))
            _headAtOpen = head;
        if (!(head >= _lowest))
        {
            _lowest = head;
            _highestSinceLowest = head;
            _highestTicks = ticks;
            _checkedTop = false;
        }
        else if (head > _highestSinceLowest + 0.5f)
        {
            _highestSinceLowest = head;
            _highestTicks = ticks;
            _checkedTop = false;
        }
    }

    // Job and bar belong to a cut once the head has gone down: what a controller loads later is for the next one.
    private void FollowTexts(in Sample sample, float head)
    {
        if (_jobSettled)
            return;
        _cycleMode = _mode;
        _cycleJob = _job;
        _cycleBar = _barId;
        _cycleBlade = _bladeId;
        _jobSettled = sample.Is(SampleFlags.Cutting) || head < _headAtOpen - ReturnMm || sample.Ticks - _startTicks > 30 * TimeSpan.TicksPerSecond;
    }

    private void FollowCycleBit(in Sample sample, float head)
    {
        if (sample.Is(SampleFlags.Cycle))
        {
            _stopTicks = 0;
            if (float.IsNaN(head) && sample.Ticks - _startTicks > _nextLook)
            {
                _nextLook += _nextLook / 2;
                PartByLikeRuns(ended: false);
            }

            return;
        }

        if (!sample.Is(SampleFlags.CycleKnown))
            return;
        if (_stopTicks == 0)
        {
            if (!StandsInStock(head))
            {
                if (float.IsNaN(head))
                    PartByLikeRuns(ended: true);
                Close(_trace.Count - 1, sample.Ticks, Closing.Seen);
                return;
            }

            _stopTicks = sample.Ticks;
            _lowestAtStop = _lowest;
            return;
        }

        // Stopped in the stock: somebody carries on, or takes the head out.
        var wentOn = _lowest < _lowestAtStop - DescentMm;
        if (head > _lowest + ReturnMm || (!wentOn && sample.Ticks - _stopTicks > LongestStopTicks))
            Close(_trace.Count - 1, wentOn ? sample.Ticks : _stopTicks, wentOn ? Closing.Seen : Closing.StoppedInStock);
    }

    private bool StandsInStock(float head)
    {
        var bottom = Math.Max(OutcomeRules.TableToleranceMm, double.IsNaN(_bottomMm) ? 0 : _bottomMm + 3);
        return !float.IsNaN(head) && _lowest > bottom && head <= _lowest + ReturnMm && _lowest < _headAtOpen - ReturnMm
            && Analyse(_trace.Count) is { HasCut: true } facts && !(facts.LeaveSeen && facts.Overtravel is > 1 and < 15);
    }

    private void FollowWithoutCycleBit(in Sample sample, float head)
    {
        var moved = _lowest < _headAtOpen - DescentMm;
        if (moved && !float.IsNaN(head) && _highestSinceLowest >= _lowest + ReturnMm && !_checkedTop
            && sample.Ticks - _highestTicks >= Math.Max(TimeSpan.TicksPerSecond, 3 * _usualTicks))
        {
            // The head has come up and stands.
            _checkedTop = true;
            var index = FirstAfter(_highestTicks);
            var facts = Analyse(index + 1);
            if (!facts.HasCut)
                Discard(sample);
            else if (IsOutOfStock(facts))
                Close(index, _highestTicks, Closing.Seen, keepTraceFrom: index);
            return;
        }

        if (sample.Is(SampleFlags.Cutting))
        {
            _cuttingFellTicks = 0;
        }
        else if (sample.Is(SampleFlags.CuttingKnown))
        {
            if (_cuttingFellTicks == 0)
                _cuttingFellTicks = sample.Ticks;

            // With a head that moves, the head says when the cycle is over; without, the bit does.
            var patience = moved ? LongestStopTicks : Math.Max(CuttingBitGapTicks, 3 * _usualTicks);
            if (sample.Ticks - _cuttingFellTicks < patience)
                return;
            if (Analyse(_trace.Count).HasCut)
                Close(FirstAfter(_cuttingFellTicks), _cuttingFellTicks, Closing.Seen);
            else
                Discard(sample);
        }
        else if (moved && sample.Ticks - _highestTicks > LongestStopTicks && _highestSinceLowest < _lowest + 1 && !Analyse(_trace.Count).HasCut)
        {
            // The head sank or was lowered and stays there.
            Discard(sample);
        }
    }

    // One cycle bit may span many cuts: the head came up out of the stock and goes down again, or the counter rose and
    // the next cut began. Returns the sample at which the cycles part, or -1.
    private int CutIsOverAndNextBegins(in Sample sample, float head)
    {
        if (!float.IsNaN(head))
        {
            if (_checkedTop || !(_highestSinceLowest >= _lowest + ReturnMm) || head > _highestSinceLowest - DescentMm)
                return -1;
            _checkedTop = true;
            var index = FirstAfter(_highestTicks);
            var facts = Analyse(index + 1);
            if (facts.HeadBackwards)
                return -1;
            if (facts.HasCut && IsOutOfStock(facts))
                return index;
            if (!facts.HasCut)
            {
                // A rise before the cut: the account of heights begins again at the top.
                _lowest = _highestSinceLowest = head;
                _highestTicks = sample.Ticks;
                _headAtOpen = Math.Max(_headAtOpen, head);
            }

            return -1;
        }

        if (!_cycleBitInCycle)
            return -1;
        if (_settling is null && _counter.RiseSinceMark > 0 && _splitTicks == 0 && Analyse(_trace.Count) is { HasCut: true, LeaveSeen: true } cut)
        {
            _splitTicks = sample.Ticks;
            NoteRun(cut);
        }

        if (_splitTicks > 0 && sample.Is(SampleFlags.Cutting) && sample.Ticks - _splitTicks > TimeSpan.TicksPerSecond)
            return FirstAfter(_splitTicks);
        return NextCutByLoad(sample);
    }

    private bool IsOutOfStock(in CutFacts facts) =>
        !facts.ContactSeen || double.IsNaN(facts.ContactHead) || _highestSinceLowest >= facts.ContactHead - 0.5;

    private void Discard(in Sample sample)
    {
        _open = false;
        AwaitCount();
        _trace.Clear();
        _trace.Add(sample);
        ResetIdle();
    }

    private void ResetIdle()
    {
        _idleTop = _idleTopBefore = float.NaN;
        _cycleBitWasOff = false;
    }

    // Median of the last three heads: one glitch moves nothing.
    private float Steady(float head)
    {
        if (float.IsNaN(head))
            return head;
        var a = float.IsNaN(_head2) ? head : _head2;
        var b = float.IsNaN(_head1) ? head : _head1;
        _head2 = _head1;
        _head1 = head;
        return Math.Max(Math.Min(a, b), Math.Min(Math.Max(a, b), head));
    }
}
