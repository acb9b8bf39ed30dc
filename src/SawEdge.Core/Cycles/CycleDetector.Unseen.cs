using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Signals;

namespace SawEdge.Core.Cycles;

/// <summary>What the part counter tells of a time without frames: cycles that nobody saw.</summary>
public sealed partial class CycleDetector
{
    /// <summary>What waits for who takes it; the oldest give way.</summary>
    private const int MostTold = 16;

    private readonly Queue<UnseenParts> _told = new(1);
    private readonly List<string> _fromOutside = [];
    private UnseenParts? _unseen;
    private DateTimeOffset? _lookedAt;
    private long _counterKnownUntil = long.MinValue;
    private bool _resumed;
    private DateTimeOffset? _awayFrom;
    private long _countBefore;
    private bool _oneIsRecorded;
    private bool _openOverGap;

    // Since when nobody had looked when the cycle came into view that goes on now, or has just ended; null once one is seen from its start.
    private DateTimeOffset? _tailFrom;
    private long _tailUntil;

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
    private void ReadCounter(in SignalFrame frame)
    {
        if (frame.Has(Signal.PartCount) && frame.Time.UtcTicks > _counterKnownUntil)
            _counter.Read((long)frame.Number(Signal.PartCount));
    }

    // The cycle that was open before, or whose part was not counted yet, has a record of its own: one of the parts is its.
    private void BeginUnseen((long? Count, long Risen) before, int readyBefore, long ticks)
    {
        _resumed = false;
        if (before.Count is not { } count || _lookedAt is not { } from || _awayFrom is not null)
            return;
        (_awayFrom, _countBefore, _openOverGap) = (from, count, _open);
        _oneIsRecorded = before.Risen == 0 && (_open || _settling is not null);
        var at = 0;
        foreach (var cut in _ready)
            _oneIsRecorded |= at++ >= readyBefore && before.Risen == 0 && cut.Outcome is not (CutOutcome.Trim or CutOutcome.Partial or CutOutcome.Aborted);
        (_tailFrom, _tailUntil) = (_open ? null : from, ticks + CounterDelayTicks);
    }

    private void EndUnseen(in SignalFrame frame)
    {
        if (_awayFrom is not { } from || !frame.Has(Signal.PartCount))
            return;
        _awayFrom = null;
        var rise = _counter.Value!.Value - _countBefore;
        var counted = rise - (_oneIsRecorded ? 1 : 0);
        if (_settling is null && !(_open && _openOverGap))
            _counter.Mark();
        if (rise < 0 || counted > 0)
            Tell(new UnseenParts(Math.Max(0, counted), rise >= 0, from, frame.Time));
    }

    // Of a cycle only the end was seen, too little for a record: its part is one that was not seen either.
    private void EndTail(DateTimeOffset now)
    {
        if (_tailFrom is not { } from || _settling is not null || _awayFrom is not null)
            return;
        if (_counter.RiseSinceMark > 0)
            Tell(new UnseenParts(_counter.RiseSinceMark, true, from, now));
        _counter.Mark();
    }

    private void Tell(UnseenParts found)
    {
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
