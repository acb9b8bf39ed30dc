namespace SawEdge.Core.Blades;

/// <summary>What a person says about blades.</summary>
public enum BladeEntryKind : byte
{
    /// <summary>From this moment on another blade is on the saw.</summary>
    Change,

    /// <summary>No blade was changed around this moment: a proposal made there does not hold.</summary>
    NoChange,

    /// <summary>The blade will not be used again.</summary>
    Retire,
}

/// <summary>One entry of a person about the blades of a saw.</summary>
/// <param name="Id">Its number in the history; 0 where it has none.</param>
/// <param name="Saw">The saw.</param>
/// <param name="At">The moment it speaks of.</param>
/// <param name="Kind">What it says.</param>
/// <param name="Blade">The blade; for <see cref="BladeEntryKind.NoChange"/> empty.</param>
/// <param name="Note">What the person wrote besides, or empty.</param>
public sealed record BladeEntry(long Id, string Saw, DateTimeOffset At, BladeEntryKind Kind, string Blade, string Note = "");

/// <summary>What people have said about the blades of one saw. Immutable.</summary>
public sealed class BladeBook
{
    private readonly BladeEntry[] _entries;

    /// <summary>A book of entries that hold; in any order.</summary>
    public BladeBook(IEnumerable<BladeEntry> entries) => _entries = [.. entries.OrderBy(e => e.At).ThenBy(e => e.Id)];

    /// <summary>A book without entries.</summary>
    public static BladeBook Empty { get; } = new([]);

    /// <summary>The entries by time.</summary>
    public IReadOnlyList<BladeEntry> Entries => _entries;

    /// <summary>The latest change at or before a moment; null where there is none.</summary>
    public BladeEntry? ChangeAt(DateTimeOffset moment) => Array.FindLast(_entries, e => e.Kind == BladeEntryKind.Change && e.At <= moment);

    /// <summary>Whether a person said that no blade was changed between two moments.</summary>
    public bool DeniesChange(DateTimeOffset from, DateTimeOffset to) => Array.Exists(_entries, e => e.Kind == BladeEntryKind.NoChange && e.At >= from && e.At <= to);

    /// <summary>Whether a blade was retired at or before a moment.</summary>
    public bool IsRetired(string blade, DateTimeOffset moment) => Array.Exists(_entries, e => e.Kind == BladeEntryKind.Retire && e.Blade == blade && e.At <= moment);
}
