namespace SawEdge.Core.Cycles;

/// <summary>What the detector thinks now.</summary>
public sealed partial class CycleDetector
{
    /// <summary>
    /// What the saw is taken to be doing, and why. Reads the trace of the open cycle, so it is not for every frame; changes nothing of
    /// what the frames that follow will come to.
    /// </summary>
    public CycleNow Now()
    {
        var last = _trace.Count > 0 ? _trace.Last : default;
        var now = new CycleNow
        {
            Phase = Phase,
            IdleKw = _idleKw,
            ContactHeadMm = double.NaN,
            LeaveHeadMm = double.NaN,
            TopMm = double.NaN,
            LowestMm = double.NaN,
            CycleBit = last.Is(SampleFlags.CycleKnown) ? last.Is(SampleFlags.Cycle) : null,
            CuttingBit = last.Is(SampleFlags.CuttingKnown) ? last.Is(SampleFlags.Cutting) : null,
            AwaitsCounter = _settling is not null,
        };
        if (Phase == CyclePhase.Unknown)
            return now;
        if (!_open)
            return now with { WaitsFor = CycleWait.Cycle, TopMm = float.IsNaN(_idleTopBefore) ? _idleTop : Math.Max(_idleTop, _idleTopBefore) };

        // Not by way of Analyse, which fills the trace between readings: looking must not change what is found.
        var facts = CutAnalysis.Read(_trace.Samples, new CutHints(_idleKw, Stock(_cycleJob), _startSeen));
        var hasCut = facts.HasCut && IsNoInrush(facts, last);
        var left = hasCut && facts.LeaveSeen && !facts.LoadedToTheEnd;
        return now with
        {
            Beginning = !_startSeen ? CycleBeginning.NotSeen : _cycleBitInCycle ? CycleBeginning.CycleBit : CycleBeginning.CuttingOrHead,
            WaitsFor = Waits(hasCut, left),
            StartedAt = ToTime(_startTicks),
            StoppedAt = _stopTicks > 0 ? ToTime(_stopTicks) : null,
            HasCut = hasCut,
            ContactAt = hasCut && facts.ContactSeen ? ToTime(facts.ContactTicks) : null,
            ContactHeadMm = hasCut ? facts.ContactHead : double.NaN,
            LeftAt = left ? ToTime(facts.LeaveTicks) : null,
            LeaveHeadMm = left ? facts.LeaveHead : double.NaN,
            IdleKw = hasCut && !double.IsNaN(facts.IdleKw) ? facts.IdleKw : _idleKw,
            LowestMm = _lowest,
        };
    }

    // A trace that ends in the middle cannot tell a motor's inrush by what comes after it.
    private bool IsNoInrush(in CutFacts facts, in Sample last)
    {
        var isOver = facts.LeaveSeen && !facts.LoadedToTheEnd;

        // A head that was seen from the start and has not gone down has cut nothing, however long its motor took to start.
        if (_startSeen && _lowest >= _headAtOpen - DescentMm && !last.Is(SampleFlags.Cutting))
            return false;
        if ((isOver ? facts.LeaveTicks : last.Ticks) - facts.ContactTicks > LastingLoadTicks)
            return true;
        return !isOver && (_lowest < _headAtOpen - DescentMm || last.Is(SampleFlags.Cutting));
    }

    private CycleWait Waits(bool hasCut, bool left)
    {
        if (_stopTicks > 0)
            return CycleWait.CarryOn;
        if (!hasCut)
            return CycleWait.Contact;
        if (!left)
            return CycleWait.Leave;
        if (_cycleBitInCycle)
            return CycleWait.CycleBitFalls;
        return _lowest < _headAtOpen - DescentMm ? CycleWait.HeadUp : CycleWait.CuttingBitOff;
    }
}
