namespace SawEdge.Core.Cycles;

/// <summary>
/// Follows the controller's part counter, which may roll over, be reset, or not count at all.
/// </summary>
internal sealed class PartCounter
{
    /// <summary>Full cuts without a rise after which a counter that never rose is taken to be out of use.</summary>
    private const int PatienceWithNewCounter = 2;

    /// <summary>The same for one that used to count: more trim cuts than this in a row do not happen.</summary>
    private const int PatienceWithProvenCounter = 5;

    private int _cutsWithoutRise;
    private bool _everRose;

    /// <summary>The counter as last read; null where it was never read.</summary>
    public long? Value { get; private set; }

    /// <summary>Rises since <see cref="Mark"/>.</summary>
    public long RiseSinceMark { get; private set; }

    /// <summary>Whether it fell (a reset or rollover) since <see cref="Mark"/>.</summary>
    public bool FellSinceMark { get; private set; }

    /// <summary>Whether a full cut that the counter did not count says something.</summary>
    public bool IsTrusted => Value is not null && _cutsWithoutRise < (_everRose ? PatienceWithProvenCounter : PatienceWithNewCounter);

    /// <summary>Takes a reading.</summary>
    /// <returns>By how much it rose; null where it fell: what it counted on top is not known.</returns>
    public long? Read(long value)
    {
        var last = Value;
        Value = value;
        if (last is not { } before || value == before)
            return 0;
        if (value < before && !RolledOver(before, value))
        {
            FellSinceMark = true;
            return null;
        }

        var rise = value > before ? value - before : value + 1;
        RiseSinceMark += rise;
        _everRose = true;
        return rise;
    }

    // The usual widths of counters, binary and decimal: one that stood at its end and begins again has counted.
    private static bool RolledOver(long last, long value) =>
        value <= 1 && last is (255 or 999 or 9_999 or 32_767 or 65_535 or 99_999 or 999_999 or 2_147_483_647 or 4_294_967_295);

    /// <summary>Begins a new account: from here on rises belong to the present cycle.</summary>
    public void Mark()
    {
        RiseSinceMark = 0;
        FellSinceMark = false;
    }

    /// <summary>Notes a full cut and whether the counter counted it.</summary>
    public void NoteFullCut(bool counted) => _cutsWithoutRise = counted ? 0 : Math.Min(_cutsWithoutRise + 1, 1000);

    public (long? Value, bool EverRose, int Still) Save() => (Value, _everRose, _cutsWithoutRise);

    public void Restore(long? value, bool everRose, int still)
    {
        Value = value;
        _everRose = everRose;
        _cutsWithoutRise = still;
        Mark();
    }
}
