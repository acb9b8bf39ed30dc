using System.Globalization;

namespace SawEdge.Modbus;

/// <summary>What is asked of a unit: so many neighbouring entries of one table. An instance is always within the protocol's limits.</summary>
public readonly record struct ReadRequest
{
    /// <summary>Most bits in one request: 0x7D0 (Modbus Application Protocol V1.1b3, clauses 6.1 and 6.2).</summary>
    public const int MaximumBits = 2000;

    /// <summary>Most registers in one request: 0x7D (clauses 6.3 and 6.4).</summary>
    public const int MaximumRegisters = 125;

    /// <summary>Entries that a table can have: addresses are 0 to 65535 (clause 4.4).</summary>
    public const int AddressSpace = 65536;

    /// <summary>States a request.</summary>
    /// <param name="unit">Unit identifier, 0..255.</param>
    /// <param name="table">The table.</param>
    /// <param name="address">Protocol address of the first entry, from 0.</param>
    /// <param name="quantity">Number of entries, from 1.</param>
    /// <exception cref="ArgumentOutOfRangeException">The table is none of the four, the quantity is outside the protocol's limits, or the last entry lies past address 65535.</exception>
    public ReadRequest(byte unit, ModbusTable table, ushort address, int quantity)
    {
        var limit = Limit(table);
        if (quantity < 1 || quantity > limit)
            throw new ArgumentOutOfRangeException(nameof(quantity), quantity, Say($"One request reads 1 to {limit} {Name(table)}."));
        if (address + quantity > AddressSpace)
            throw new ArgumentOutOfRangeException(nameof(quantity), quantity, Say($"The addresses end at 65535; {quantity} {Name(table)} from {address} would run past it."));
        Unit = unit;
        Table = table;
        Address = address;
        Quantity = (ushort)quantity;
    }

    /// <summary>Unit identifier.</summary>
    public byte Unit { get; }

    /// <summary>The table.</summary>
    public ModbusTable Table { get; }

    /// <summary>Protocol address of the first entry, from 0.</summary>
    public ushort Address { get; }

    /// <summary>Number of entries.</summary>
    public ushort Quantity { get; }

    /// <summary>Whether the entries are bits rather than registers.</summary>
    public bool IsBits => Table is ModbusTable.Coils or ModbusTable.DiscreteInputs;

    /// <summary>Bytes of values in the answer: eight bits a byte, two bytes a register.</summary>
    public int AnswerBytes => IsBits ? (Quantity + 7) / 8 : Quantity * 2;

    /// <summary>Most entries that one request of this table may ask for.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The table is none of the four.</exception>
    public static int Limit(ModbusTable table) => table switch
    {
        ModbusTable.Coils or ModbusTable.DiscreteInputs => MaximumBits,
        ModbusTable.HoldingRegisters or ModbusTable.InputRegisters => MaximumRegisters,
        _ => throw new ArgumentOutOfRangeException(nameof(table), table, "The table is one of coils, discrete inputs, holding registers and input registers."),
    };

    /// <summary>Unit, table and address range in words, for messages.</summary>
    public override string ToString() => Quantity == 1
        ? Say($"unit {Unit}, {Name(Table)} {Address}")
        : Say($"unit {Unit}, {Name(Table)} {Address} to {Address + Quantity - 1}");

    private static string Name(ModbusTable table) => table switch
    {
        ModbusTable.Coils => "coils",
        ModbusTable.DiscreteInputs => "discrete inputs",
        ModbusTable.HoldingRegisters => "holding registers",
        _ => "input registers",
    };

    private static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
