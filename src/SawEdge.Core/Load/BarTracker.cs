using SawEdge.Core.Cycles;

namespace SawEdge.Core.Load;

/// <summary>
/// Which bar a cut is from: as the controller says, and where it does not, another one after a trim cut or a pause long enough
/// to change it.
/// </summary>
internal sealed class BarTracker
{
    // Common practice, no source.
    private static readonly TimeSpan BarChange = TimeSpan.FromSeconds(45);

    private long _lastEndTicks;
    private int _guessed;

    /// <summary>Whether the bar of the last cut was guessed.</summary>
    public bool IsGuessed { get; private set; }

    /// <summary>Name of the bar of the next cut.</summary>
    public string BarOf(Cut cut)
    {
        IsGuessed = cut.BarId.Length == 0;
        if (IsGuessed && (cut.Outcome == CutOutcome.Trim || cut.StartedAt.UtcTicks - _lastEndTicks > BarChange.Ticks))
            _guessed = (_guessed + 1) % 1_000_000;
        _lastEndTicks = cut.EndedAt.UtcTicks;
        return IsGuessed ? string.Create(System.Globalization.CultureInfo.InvariantCulture, $"~{_guessed}") : cut.BarId;
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Long(_lastEndTicks);
        to.Count(_guessed);
    }

    /// <summary>Goes on from what was written down.</summary>
    public void Restore(MemoryReader from) => (_lastEndTicks, _guessed) = (from.Long(), from.Count());
}
