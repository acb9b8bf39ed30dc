using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>What became of one register or bit of a range that was read.</summary>
public enum ScannedState : byte
{
    /// <summary>Not asked for: the scan ended before it.</summary>
    NotAsked,

    /// <summary>Read.</summary>
    Read,

    /// <summary>The device says that there is nothing.</summary>
    NotThere,

    /// <summary>The device did not answer.</summary>
    NoAnswer,
}

/// <summary>A range of one table of a unit, as it was read once.</summary>
/// <param name="table">The table.</param>
/// <param name="first">Protocol address of the first.</param>
/// <param name="count">How many.</param>
public sealed class ScannedBlock(RegisterTable table, ushort first, int count)
{
    private readonly ushort[] _values = new ushort[count];
    private readonly ScannedState[] _states = new ScannedState[count];

    /// <summary>The table.</summary>
    public RegisterTable Table => table;

    /// <summary>Protocol address of the first.</summary>
    public ushort First => first;

    /// <summary>How many.</summary>
    public int Count => count;

    /// <summary>Whether they are bits.</summary>
    public bool IsBits => table is RegisterTable.Coil or RegisterTable.DiscreteInput;

    /// <summary>Requests that were made.</summary>
    public int Requests { get; internal set; }

    /// <summary>Why the scan ended before the last one, in sentences; null where it did not.</summary>
    public string? BrokenOff { get; internal set; }

    /// <summary>How many were read.</summary>
    public int ReadCount => _states.Count(state => state == ScannedState.Read);

    /// <summary>What became of one.</summary>
    /// <param name="index">From 0 on; what lies outside was not asked for.</param>
    public ScannedState StateOf(int index) => index >= 0 && index < count ? _states[index] : ScannedState.NotAsked;

    /// <summary>Whether so many neighbours were all read.</summary>
    public bool Has(int index, int length)
    {
        for (var i = index; i < index + length; i++)
        {
            if (StateOf(i) != ScannedState.Read)
                return false;
        }

        return true;
    }

    /// <summary>The values of neighbours that were all read; a bit is 0 or 1.</summary>
    public ReadOnlySpan<ushort> Words(int index, int length) => _values.AsSpan(index, length);

    /// <summary>The value of one that was read.</summary>
    public ushort this[int index] => _values[index];

    /// <summary>Takes what was read.</summary>
    internal void Keep(int index, ReadOnlySpan<ushort> values)
    {
        values.CopyTo(_values.AsSpan(index));
        _states.AsSpan(index, values.Length).Fill(ScannedState.Read);
    }

    /// <summary>States why some were not read.</summary>
    internal void Mark(int index, int length, ScannedState state) => _states.AsSpan(index, length).Fill(state);
}
