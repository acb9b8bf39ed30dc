namespace SawEdge.Core.Tests.Alarms;

/// <summary>
/// A second, simple telling of the life of one alarm, by letters, for holding the board against: the letter beneath (A to F) and what covers it.
/// Times are ms.
/// </summary>
internal sealed class ReferenceAlarm(string rule, bool latch)
{
    private const long Settle = 600_000;
    private const long ChatterWithin = 60_000;

    private readonly List<long> _came = [];
    private char _letter = 'A';
    private bool _covered;
    private bool _out;
    private long? _shelf;
    private long? _goneAt;
    private bool _held;
    private bool _level;
    private long _last = long.MinValue / 2;

    /// <summary>What happened, as <c>ms rule kind before after number</c>.</summary>
    public required List<string> Log { get; init; }

    /// <summary>Gives the next number.</summary>
    public required Func<long> Next { get; init; }

    /// <summary>Whether something keeps it quiet.</summary>
    public Func<bool> IsCaused { get; set; } = () => false;

    /// <summary>Told when whether it keeps others quiet may have changed.</summary>
    public Action<long> Changed { get; set; } = _ => { };

    public long Number { get; private set; }

    public long LastNumber { get; private set; }

    public char Shown => _out ? 'I' : _covered ? 'H' : _shelf is not null ? 'G' : _letter;

    public bool KeepsQuiet => _letter is 'B' or 'C' && !_covered && !_out;

    public long Due => Math.Min(_goneAt + Settle ?? long.MaxValue, _shelf ?? long.MaxValue);

    private bool IsHidden => _out || _covered || _shelf is not null;

    public void Level(bool holds, long at)
    {
        if (_goneAt + Settle <= at)
            SettleNow();
        if (holds == _level)
            return;
        _level = holds;
        if (holds)
            Come(at);
        else if (_held)
            _goneAt = at;
        else
            Go(at);
    }

    public bool Acknowledge(long at)
    {
        switch (_letter)
        {
            case 'B': return Do("acknowledged", at, () => _letter = 'C');
            case 'E': return Do("acknowledged", at, () => _letter = 'F');
            case 'D': return Do("acknowledged", at, Close);
            default: return false;
        }
    }

    public bool Reset(long at) => _letter == 'F' && Do("reset", at, Close);

    public bool Shelve(long at, long until)
    {
        if (_out || _letter is 'E' or 'F' || _shelf == until)
            return false;
        return Do("shelved", at, () =>
        {
            _shelf = until;
            if (_letter == 'D')
                Close();
        });
    }

    public bool Unshelve(long at)
    {
        if (_shelf is null)
            return false;
        return Do("unshelved", at, () => (_shelf, _covered) = (null, !_out && _letter != 'A' && IsCaused()));
    }

    public bool TakeOut(long at)
    {
        if (_out || _letter is 'E' or 'F')
            return false;
        return Do("taken_out_of_service", at, () =>
        {
            (_out, _covered) = (true, false);
            if (_letter == 'D')
                Close();
        });
    }

    public bool PutBack(long at)
    {
        if (!_out)
            return false;
        return Do("returned_to_service", at, () => (_out, _covered) = (false, _letter != 'A' && IsCaused()));
    }

    public void Remark(string kind, long at) => Write(kind, at, () => { });

    /// <summary>Whether what covers it is to begin or to end.</summary>
    public void Look(long at)
    {
        if (_letter is not ('B' or 'C') || _out)
            return;
        if (_shelf is not null && !_covered && IsCaused())
            Do("suppressed", at, () => _covered = true);
        else if (_covered && !IsCaused())
            Do("unsuppressed", at, () => _covered = false);
    }

    public void RunDue()
    {
        if (_shelf == Due)
            EndShelf(Due);
        else
            SettleNow();
    }

    public void EndShelf(long now)
    {
        if (_shelf is { } until && until <= now)
            Unshelve(until);
    }

    private void SettleNow()
    {
        var at = _goneAt!.Value + Settle;
        (_goneAt, _held) = (null, false);
        _came.Clear();
        Write("settled", at, () => { });
        Go(at);
    }

    private void Come(long at)
    {
        _came.Add(at);
        var often = _came.Count(time => at - time <= ChatterWithin) >= 3;
        _goneAt = null;
        if (_held)
            return;
        if (_letter == 'A')
        {
            Number = LastNumber = Next();
            Do("raised", at, () => (_letter, _covered) = ('B', IsCaused() && !_out));
        }
        else
        {
            Do("raised", at, () => _letter = 'B');
        }

        if (often)
        {
            _held = true;
            Write("chattering", at, () => { });
        }
    }

    private void Go(long at)
    {
        if (_letter is not ('B' or 'C'))
            return;
        Do("cleared", at, () =>
        {
            if (IsHidden || (_letter == 'C' && !latch))
                Close();
            else
                _letter = latch ? _letter == 'C' ? 'F' : 'E' : 'D';
        });
    }

    private void Close() => (_letter, _covered) = ('A', false);

    private bool Do(string kind, long at, Action change)
    {
        Changed(Write(kind, at, change));
        return true;
    }

    private long Write(string kind, long at, Action change)
    {
        var before = Shown;
        at = Math.Max(at, _last + 1);
        _last = at;
        change();
        Log.Add($"{at} {rule} {kind} {before} {Shown} {(Number > 0 ? Number : "-")}");
        if (_letter == 'A')
            Number = 0;
        return at;
    }
}
