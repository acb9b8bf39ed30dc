using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>One request and the signals that its answer holds.</summary>
internal sealed class PlannedRead
{
    // An array, because an enumerator of anything else would be made anew with each poll.
    private readonly SignalDecoder[] _signals;
    private readonly bool[] _bits;
    private readonly ushort[] _words;

    /// <summary>Plans to read a range that covers the signals.</summary>
    /// <param name="signals">Signals of one table, by rising address.</param>
    public PlannedRead(IReadOnlyList<SignalDecoder> signals)
    {
        _signals = [.. signals];
        Table = ToTable(signals[0].Mapping.Table);
        Address = signals[0].Mapping.Address;
        Count = signals.Max(signal => signal.End) - Address;
        _bits = signals[0].IsBit ? new bool[Count] : [];
        _words = signals[0].IsBit ? [] : new ushort[Count];
        if (signals.All(signal => signal.Mapping.Every is not null))
            Every = signals.Min(signal => signal.Mapping.Every);
    }

    /// <summary>The signals, by rising address.</summary>
    public IReadOnlyList<SignalDecoder> Signals => _signals;

    /// <summary>The table.</summary>
    public ModbusTable Table { get; }

    /// <summary>First address.</summary>
    public ushort Address { get; }

    /// <summary>Number of registers or bits.</summary>
    public int Count { get; }

    /// <summary>When the device refused this range: the monotonic timestamp after which it is asked again; else null.</summary>
    public long? RefusedUntil { get; set; }

    /// <summary>How often it is made; null: with each poll.</summary>
    public TimeSpan? Every { get; }

    /// <summary>For one that is not made with each poll: whether its values still hold.</summary>
    public bool IsHeld { get; set; }

    /// <summary>For one whose values hold: the monotonic timestamp at which it is due again.</summary>
    public long DueAt { get; set; }

    /// <summary>The table as the protocol client names it.</summary>
    public static ModbusTable ToTable(RegisterTable table) => table switch
    {
        RegisterTable.Coil => ModbusTable.Coils,
        RegisterTable.DiscreteInput => ModbusTable.DiscreteInputs,
        RegisterTable.Holding => ModbusTable.HoldingRegisters,
        RegisterTable.Input => ModbusTable.InputRegisters,
        _ => throw new ArgumentOutOfRangeException(nameof(table), table, "The table is one of coil, discrete input, holding and input."),
    };

    /// <summary>Asks the device; the values are kept for <see cref="Decode"/>.</summary>
    public ValueTask ReadAsync(IModbusReader reader, byte unit, CancellationToken cancellation) => _bits.Length > 0
        ? reader.ReadBitsAsync(unit, Table, Address, _bits, cancellation)
        : reader.ReadRegistersAsync(unit, Table, Address, _words, cancellation);

    /// <summary>Puts the values into a frame, and shows them to the observer where there is one.</summary>
    public void Decode(ref SignalFrame frame, IRawValueObserver? observer = null)
    {
        foreach (var signal in _signals)
        {
            var at = signal.Mapping.Address - Address;
            if (_bits.Length > 0)
                signal.Decode(_bits[at], ref frame);
            else
                signal.Decode(_words.AsSpan(at, signal.Length), ref frame);
            if (observer is not null)
                Show(signal, at, observer);
        }
    }

    private void Show(SignalDecoder signal, int at, IRawValueObserver observer)
    {
        if (_bits.Length > 0)
            observer.BitRead(signal.Mapping.Signal, _bits[at]);
        else
            observer.RegistersRead(signal.Mapping.Signal, _words.AsSpan(at, signal.Length));
    }
}
