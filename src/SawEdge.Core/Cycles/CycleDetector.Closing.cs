using System.Globalization;

namespace SawEdge.Core.Cycles;

/// <summary>What a finished cycle was.</summary>
public sealed partial class CycleDetector
{
    /// <summary>How long after a cycle the part counter may still count its part.</summary>
    private const long CounterDelayTicks = 5 * TimeSpan.TicksPerSecond;

    /// <summary>A cycle bit without a cut is recorded only if it lasted, or the head went down in it.</summary>
    private const long LeastDryCycleTicks = 10 * TimeSpan.TicksPerSecond;

    private long _offset;
    private long _offsetSince = long.MinValue;
    private bool _clockStepped;
    private long _faultAtOpen;
    private long _faultInCycle;
    private string _cycleMode = "";
    private string _cycleJob = "";
    private string _cycleBar = "";
    private string _cycleBlade = "";
    private bool _jobSettled;
    private Cut? _settling;
    private DateTimeOffset _settlingFrom;
    private long _settlesAt;
    private bool _settlingFirstOfBar;

    private CutFacts Analyse(int count)
    {
        _trace.FillBetweenReadings(CutAnalysis.GapLimit(_usualTicks));
        return CutAnalysis.Read(_trace.Samples[..Math.Clamp(count, 0, _trace.Count)], new CutHints(_idleKw, Stock(_cycleJob), _startSeen));
    }

    private void Close(int lastIndex, long endTicks, Closing closing, int keepTraceFrom = -1, bool cuttingAfterGap = false, bool counterMoved = false)
    {
        var facts = Analyse(lastIndex + 1);
        var samples = _trace.Samples[..Math.Clamp(lastIndex + 1, 0, _trace.Count)];
        if (facts.HasCut)
            Emit(samples, facts, endTicks, closing, cuttingAfterGap, counterMoved);
        else if (!(_cycleBitInCycle && closing != Closing.InputEnded && EmitWithoutCut(samples, endTicks, facts, closing)) && _counter.RiseSinceMark == 0)
            AwaitCount();

        _open = false;
        _stopTicks = 0;
        if (keepTraceFrom > 0)
            _trace.DropBefore(LeadIn(keepTraceFrom));
        else if (_trace.Count > 1)
            _trace.DropBefore(_trace.Count - 1);
        ResetIdle();
        _cycleBitWasOff = true;
    }

    private void Emit(ReadOnlySpan<Sample> samples, CutFacts facts, long endTicks, Closing closing, bool cuttingAfterGap, bool counterMoved)
    {
        var notes = new List<string>();
        if (facts.LoadedToTheEnd && !facts.LeaveSeen && closing is (Closing.Seen or Closing.StoppedInStock))
        {
            // The cycle ended with the cut, as far as the frames tell.
            facts.LeaveSeen = true;
            facts.LeaveTicks = Math.Max(facts.LeaveTicks, Math.Min(endTicks, samples[^1].Ticks));
        }

        var counterRose = _settling is null && _counter.RiseSinceMark > 0;
        var context = new OutcomeContext(
            closing, _cycleBitInCycle, counterRose || counterMoved, _counter.FellSinceMark, _counter.IsTrusted, _bottomMm,
            _cycleJob == _usualJob ? _usualCutSeconds : double.NaN, _cycleBitInCycle ? _usualTailSeconds : double.NaN, Seconds(endTicks - facts.LeaveTicks), cuttingAfterGap, _usualTicks);
        var outcome = OutcomeRules.Decide(samples, facts, context, notes);
        if (!facts.LeaveSeen || outcome is CutOutcome.UnobservedEnd or CutOutcome.Interrupted)
            facts.LeaveSeen = false;
        facts.UsedBits |= _cycleBitInCycle;
        var figures = CutFigures.Of(samples, _trace.Stride, facts);
        AddNotes(facts, notes);
        SettleAccountInCycle(facts, counterRose);
        var before = TakeUnseen(notes);
        var doubts = SignalDoubtRules.Of(samples, facts, _idleKw);
        SignalDoubtRules.AddNotes(doubts, notes);
        var depthKnown = facts.UsedHead && (doubts & SignalDoubts.HeadJumps) == 0;
        var speedKnown = (doubts & SignalDoubts.BladeSpeedZero) == 0;

        var start = facts.ContactSeen ? Math.Min(_startTicks, facts.ContactTicks) : _startTicks;
        var end = facts.LeaveSeen ? Math.Max(endTicks, facts.LeaveTicks) : endTicks;
        var cut = new Cut
        {
            StartedAt = ToTime(start),
            CutStartedAt = facts.ContactSeen ? ToTime(facts.ContactTicks) : null,
            CutEndedAt = facts.LeaveSeen ? ToTime(facts.LeaveTicks) : null,
            EndedAt = ToTime(end),
            Outcome = outcome,
            Mode = _cycleMode,
            Job = _cycleJob,
            BarId = _cycleBar,
            BladeId = _cycleBlade,
            PartCount = _counter.Value,
            Before = before,
            FaultCode = _faultInCycle,
            DepthMm = depthKnown && facts is { ContactSeen: true, LeaveSeen: true } ? facts.ContactHead - facts.LeaveHead : double.NaN,
            MeanLoadKw = figures.MeanLoadKw,
            PeakLoadKw = figures.PeakLoadKw,
            IdleLoadKw = facts.IdleKw,
            EnergyKj = figures.EnergyKj,
            MeanBladeSpeedMMin = speedKnown ? figures.MeanSpeed : double.NaN,
            HoldSeconds = facts.HoldSeconds,
            Frames = figures.Frames,
            Coverage = figures.Coverage,
            Basis = BasisOf(facts),
            Doubts = doubts,
            Notes = notes,
            Loop = BladeLoop.Measure(samples, facts, BladeLengthMm(_cycleJob)),
            Profile = DepthProfiler.Of(samples, facts, depthKnown, speedKnown),
        };

        LearnThreshold(figures.MeanLoadKw, facts.IdleKw);
        Learn(facts, outcome, endTicks);
        Deliver(cut, counterRose);
    }

    // False where there is nothing to be recorded.
    private bool EmitWithoutCut(ReadOnlySpan<Sample> samples, long endTicks, in CutFacts facts, Closing closing)
    {
        var descended = _lowest < _headAtOpen - (2 * ReturnMm);
        if (!_startSeen || (!descended && endTicks - _startTicks < LeastDryCycleTicks))
            return false;
        var loads = 0;
        foreach (ref readonly var sample in samples)
            loads += float.IsNaN(sample.Load) ? 0 : 1;
        var unseen = loads * 2 < samples.Length;
        var counted = _settling is null && _counter.RiseSinceMark > 0;
        var missed = !unseen && ((counted && closing == Closing.BrokeOff) || (OutcomeRules.MissesFrames(samples, _usualTicks) && (counted || (closing == Closing.Seen && _faultInCycle == 0))));
        var notes = new List<string> { unseen ? "the motor load was not read: the cut itself was not seen" : missed ? "frames were missing, and the cut itself was not seen" + (counted ? "; the part counter rose" : "") : "no contact with stock was seen" };
        AddNotes(facts, notes);
        var before = TakeUnseen(notes);
        var doubts = descended ? SignalDoubtRules.WithoutCut(samples, facts) : SignalDoubts.None;
        SignalDoubtRules.AddNotes(doubts, notes);
        Deliver(
            new Cut
            {
                StartedAt = ToTime(_startTicks),
                EndedAt = ToTime(endTicks),
                Outcome = missed ? CutOutcome.UnobservedEnd : unseen && _faultInCycle == 0 ? CutOutcome.Completed : CutOutcome.Aborted,
                Mode = _cycleMode,
                Job = _cycleJob,
                BarId = _cycleBar,
                BladeId = _cycleBlade,
                PartCount = _counter.Value,
                Before = before,
                FaultCode = _faultInCycle,
                IdleLoadKw = facts.IdleKw,
                Basis = "bits",
                Doubts = doubts,
                Notes = notes,
            },
            counted);
        return true;
    }

    private void AddNotes(in CutFacts facts, List<string> notes)
    {
        if (!_startSeen)
            notes.Add("the start of the cycle was not seen");
        if (facts.Holds == 1)
            notes.Add(string.Create(CultureInfo.InvariantCulture, $"feed hold {facts.HoldSeconds:0.0} s"));
        else if (facts.Holds > 1)
            notes.Add(string.Create(CultureInfo.InvariantCulture, $"{facts.Holds} feed holds, {facts.HoldSeconds:0.0} s together"));
        if (_faultInCycle != 0)
            notes.Add(string.Create(CultureInfo.InvariantCulture, $"fault code {_faultInCycle}"));
        if (_clockStepped)
            notes.Add(string.Create(CultureInfo.InvariantCulture, $"the clock of the frames was set back {TimeSpan.FromTicks(_order.LastStep).TotalSeconds:0.0} s in this cycle; times follow the clock before it"));
        if (facts.HeadStood)
            notes.Add("the head position did not move and was not used");
        if (_counter.FellSinceMark)
            notes.Add("the part counter was reset or rolled over");
    }

    private static string BasisOf(in CutFacts facts)
    {
        var parts = new List<string>(3);
        if (facts.UsedHead)
            parts.Add("head");
        if (facts.UsedLoad)
            parts.Add("load");
        if (facts.UsedBits)
            parts.Add("bits");
        return string.Join('+', parts);
    }

    // A full cut that the counter has not counted yet may still be counted: it waits, a few seconds at most.
    private void Deliver(Cut cut, bool counterRose)
    {
        var firstOfBar = FirstCutOfBarIsTrim && cut.BarId.Length > 0 && cut.BarId != _lastCutBarId;
        if (cut.BarId.Length > 0)
            _lastCutBarId = cut.BarId;
        if (cut.Outcome != CutOutcome.Completed)
        {
            Settle(force: true);
            _ready.Enqueue(cut);
            KeepAccount(cut.Outcome, counterRose);
            _counter.Mark();
            return;
        }

        Settle(force: true);
        (_settling, _settlingFrom) = (cut, _trace.Count > 0 ? ToTime(_trace.Samples[0].Ticks) : cut.StartedAt);
        _settlingFirstOfBar = firstOfBar;
        _settlesAt = _counter.Value is null || counterRose || _counter.FellSinceMark ? long.MinValue : _lastTicks + CounterDelayTicks;
        if (_settlesAt == long.MinValue)
            Settle(force: true);
    }

    private void Settle(bool force, long ticks = long.MinValue)
    {
        if (_settling is not { } cut)
            return;
        var rose = _counter.RiseSinceMark > 0;
        if (!force && !rose && ticks < _settlesAt)
            return;
        var outcome = OutcomeRules.OfFullCut(rose, _counter.FellSinceMark, _counter.IsTrusted, _settlingFirstOfBar);
        _settling = null;
        if (_counter.Value is not null)
            _counter.NoteFullCut(rose);
        _counter.Mark();
        KeepAccount(outcome, rose);
        _ready.Enqueue(cut with { Outcome = outcome, PartCount = _counter.Value });
    }

    private static double Seconds(long ticks) => (double)ticks / TimeSpan.TicksPerSecond;

    /// <summary>How far apart two breakthroughs on the same table may seem, mm.</summary>
    private const double SameTableMm = 5;

    private void Learn(in CutFacts facts, CutOutcome outcome, long endTicks)
    {
        if (outcome is not (CutOutcome.Completed or CutOutcome.UnobservedStart) || !facts.UsedLoad)
            return;
        if (facts.ContactSeen)
            _idleKw = Blend(_idleKw, facts.IdleKw);
        if (facts is { ContactSeen: true, LeaveSeen: true })
        {
            _usualCutSeconds = Blend(_cycleJob == _usualJob ? _usualCutSeconds : double.NaN, Seconds(facts.LeaveTicks - facts.ContactTicks));
            _usualJob = _cycleJob;
            if (_cycleBitInCycle)
                _usualTailSeconds = Blend(_usualTailSeconds, Seconds(endTicks - facts.LeaveTicks));
        }

        if (!facts.UsedHead || !facts.LeaveSeen)
            return;
        if (facts.Overtravel is >= 1 and <= 15 || facts.LeaveHead <= OutcomeRules.TableToleranceMm)
            LearnBottom(facts.LeaveHead);
    }

    // The table does not move. A height that lies elsewhere may be that of a cut whose end fell into a gap: it is believed once the next
    // cut says the same, or at once where it is that of a table at zero.
    private void LearnBottom(double seenMm)
    {
        var known = !double.IsNaN(_bottomMm) ? _bottomMm : Math.Abs(seenMm) <= OutcomeRules.TableToleranceMm ? seenMm : double.NaN;
        if (Math.Abs(seenMm - known) <= SameTableMm)
            (_bottomMm, _bottomDoubtMm) = (Blend(_bottomMm, seenMm), double.NaN);
        else if (Math.Abs(seenMm - _bottomDoubtMm) <= SameTableMm)
            (_bottomMm, _bottomDoubtMm) = ((seenMm + _bottomDoubtMm) / 2, double.NaN);
        else
            _bottomDoubtMm = seenMm;
    }

    private static double Blend(double value, double seen) => double.IsNaN(value) ? seen : double.IsNaN(seen) ? value : value + (0.2 * (seen - value));

    // Frames were missing. The same cut goes on where head, bits and counter allow it; otherwise what was open is
    // closed with what was seen, and what follows begins anew.
    private void CrossGap(in Sample sample)
    {
        if (!_open)
        {
            ForgetBetweenCycles();
            return;
        }

        var before = _trace.Last;
        var counted = _counter.RiseSinceMark > 0;
        var facts = Analyse(_trace.Count);
        var inCut = facts.HasCut && facts.LoadedToTheEnd;
        if (inCut ? SameCut(before, sample, counted, facts) : SameCycle(before, sample, facts))
            return;
        var cuttingNow = sample.Is(SampleFlags.Cutting) || sample.Is(SampleFlags.Cycle);
        Close(_trace.Count - 1, before.Ticks, inCut || !facts.HasCut || (counted && IsOnItsWayDown(before)) ? Closing.BrokeOff : Closing.Seen, cuttingAfterGap: cuttingNow, counterMoved: inCut && counted);
        ForgetBetweenCycles();
    }

    // As a start anew would: a gap and a restart in the same place give the same cycles.
    private void ForgetBetweenCycles()
    {
        _trace.Clear();
        ResetIdle();
        _head1 = _head2 = float.NaN;
    }

    private bool IsOnItsWayDown(in Sample sample) =>
        sample.Head <= _lowest + 0.5f && sample.Head > Math.Max(OutcomeRules.TableToleranceMm, double.IsNaN(_bottomMm) ? 0 : _bottomMm + 3);

    private bool SameCut(in Sample before, in Sample after, bool counted, in CutFacts facts)
    {
        if (counted)
            return false;
        if (after.Is(SampleFlags.CycleKnown) && !after.Is(SampleFlags.Cycle) && _cycleBitInCycle && float.IsNaN(after.Head))
            return false;
        var seconds = (double)(after.Ticks - before.Ticks) / TimeSpan.TicksPerSecond;
        if (!float.IsNaN(before.Head) && !float.IsNaN(after.Head))
        {
            if (after.Head > before.Head + 1)
                return false;
            if (after.Head > before.Head - 1)
                return true;

            // No part was counted meanwhile, so the blade is not through yet, and the same cut went on.
            if (_counter.IsTrusted)
                return true;

            // Even at half its pace the cut would have been through by now: this is another one.
            var pace = (facts.ContactHead - before.Head) / Math.Max(1, (double)(before.Ticks - facts.ContactTicks) / TimeSpan.TicksPerSecond);
            return !(0.5 * pace * seconds > before.Head + 5) || after.Head <= OutcomeRules.TableToleranceMm;
        }

        return (after.Is(SampleFlags.Cycle) || after.Is(SampleFlags.Cutting)) && seconds <= 600;
    }

    private bool SameCycle(in Sample before, in Sample after, in CutFacts facts)
    {
        var seconds = (double)(after.Ticks - before.Ticks) / TimeSpan.TicksPerSecond;
        if (seconds > 60 || !after.Is(SampleFlags.Cycle) || !_cycleBitInCycle)
            return false;

        // Neither its begin nor a cut was seen of it: it may as well have been at its end, and nothing is lost by beginning anew.
        if (!_startSeen && !facts.HasCut)
            return false;

        // What usually takes seconds after a cut is over long ago: this bit is that of another cycle. Unless the head was still on its way down.
        var sinceCut = Seconds(after.Ticks - facts.LeaveTicks);
        if (facts.HasCut && facts.LeaveSeen && !_spans && !IsOnItsWayDown(before) && sinceCut > (2 * _usualTailSeconds) + 5)
            return false;

        // After the cut the head only comes up; before it nothing was cut yet. A head that was on its way down may have been in the motor's inrush.
        if (facts.HasCut && after.Head < before.Head - 1)
            return _counter.RiseSinceMark == 0 && IsOnItsWayDown(before);
        return facts.HasCut || _counter.RiseSinceMark == 0;
    }
}
