using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Cycles;

/// <summary>What the part counter tells of a time without frames: cycles that nobody saw.</summary>
public sealed partial class CycleDetector
{
    /// <summary>What waits for who takes it; the oldest give way.</summary>
    private const int MostTold = 16;

    private readonly PartLedger _ledger = new();
    private readonly Queue<UnseenParts> _told = new(1);
    private readonly List<string> _fromOutside = [];
    private UnseenParts? _unseen;
    private DateTimeOffset? _lookedAt;
    private long _counterKnownUntil = long.MinValue;
    private long _counterReadAgain = long.MinValue;
    private bool _counterIsKnown;
    private bool _resumed;

    // Until when the counter may still count a cycle that is over.
    private long _countDueUntil = long.MinValue;
    private long _now = long.MinValue;

    private bool IsCountDue => _now <= _countDueUntil;

    /// <summary>The controller's part counter as last read; null where it was never read.</summary>
    public long? PartCount => _counter.Value;

    /// <summary>
    /// Says that frames are of now again: after <see cref="Restore"/>, once stored frames of the open cycle were taken again. What the counter
    /// counted until the next frame was counted while nobody looked.
    /// </summary>
    /// <param name="seenUntil">Until when the saw was seen, as far as that is known better than by the memory; null: it is not.</param>
    public void Resume(DateTimeOffset? seenUntil = null)
    {
        _resumed = true;
        _counterKnownUntil = long.MinValue;
        if (seenUntil > (_lookedAt ?? DateTimeOffset.MinValue))
            _lookedAt = seenUntil;
    }

    /// <summary>Takes what was found out of a time in which nobody saw the saw, as soon as that is known; it stands in the notes of the next record, too.</summary>
    public bool TryTakeUnseen([NotNullWhen(true)] out UnseenParts? unseen) => _told.TryDequeue(out unseen);

    // Stored frames that are taken again say nothing new of the counter up to when their memory was saved.
    private long? ReadCounter(in SignalFrame frame)
    {
        _counterIsKnown = frame.Time.UtcTicks <= _counterKnownUntil;
        return frame.Has(Signal.PartCount) && !_counterIsKnown ? _counter.Read((long)frame.Number(Signal.PartCount)) : 0;
    }

    private void KeepAccount(in SignalFrame frame, long? rise, long riseBefore, bool away)
    {
        if (rise > 0)
            _countDueUntil = long.MinValue;
        if (away && !_counterIsKnown && _lookedAt is { } from)
        {
            if (_open && _ledger.IsDue)
                SettleAccountInCycle(Analyse(_trace.Count), riseBefore > 0);
            _ledger.Away(from);
            _countDueUntil = _now + CounterDelayTicks;
        }

        if (!frame.Has(Signal.PartCount) || _counterIsKnown)
            return;
        if (!_ledger.IsDue)
            _counterReadAgain = _now;
        _ledger.Count(rise, frame.Time);
    }

    // Nothing is on its way: no cycle is open or waits to be counted.
    private void SettleAccountBetweenCycles()
    {
        if (_ledger.IsDue && !_open && _settling is null && !IsCountDue && !_counterIsKnown)
            Tell(_ledger.Settle());
    }

    // A cycle begins: what was counted up to now was counted for others.
    private void SettleAccountAtStart()
    {
        if (_settling is null && !IsCountDue && !_counterIsKnown)
            Tell(_ledger.Settle());
    }

    // A cycle was under way when frames came again, and its cut went on: it was not counted yet when the counter was read first.
    private void SettleAccountInCycle(in CutFacts facts, bool isCounted)
    {
        if (!_startSeen && _ledger.IsDue && _settling is null && !_counterIsKnown && facts.HasCut && _trace.Samples[facts.Last].Ticks > _counterReadAgain)
            Tell(_ledger.Settle(isCounted ? 1 : 0));
    }

    // A cycle is over that has its record. What the controller counted is a part to it, whatever the frames made of it.
    private void KeepAccount(CutOutcome outcome, bool isCounted)
    {
        if (isCounted || outcome is CutOutcome.Completed or CutOutcome.UnobservedStart or CutOutcome.UnobservedEnd)
            _ledger.Record();
        if (!isCounted && outcome is CutOutcome.UnobservedStart or CutOutcome.UnobservedEnd)
            AwaitCount();
    }

    // A cycle is over, and may be counted yet.
    private void AwaitCount() => _countDueUntil = Math.Max(_countDueUntil, _now + CounterDelayTicks);

    private void Tell(UnseenParts? found)
    {
        if (found is null)
            return;
        _unseen = UnseenParts.Join(_unseen, found);
        if (_told.Count == MostTold)
            _told.Dequeue();
        _told.Enqueue(found);
    }

    /// <summary>Has something stand in the notes of the cycle that is open, or of the next: what nobody can tell from the frames.</summary>
    public void Note(string words)
    {
        if (_fromOutside.Count < MostTold && !_fromOutside.Contains(words))
            _fromOutside.Add(words);
    }

    private UnseenParts? TakeUnseen(List<string> notes)
    {
        notes.AddRange(_fromOutside);
        _fromOutside.Clear();
        var unseen = _unseen;
        if (unseen is not null)
            notes.Add(unseen.Words);
        _unseen = null;
        return unseen;
    }
}
