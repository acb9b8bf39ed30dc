namespace SawEdge.Modbus;

/// <summary>
/// The four tables of the Modbus data model (Modbus Application Protocol V1.1b3, clause 4.3). The value of each is the one
/// function code that reads it (clauses 6.1 to 6.4); these are all function codes that this library can send.
/// </summary>
public enum ModbusTable : byte
{
    /// <summary>Coils: bits that a controller lets others set. Function code 01, clause 6.1.</summary>
    Coils = 1,

    /// <summary>Discrete inputs: bits that can only be read. Function code 02, clause 6.2.</summary>
    DiscreteInputs = 2,

    /// <summary>Holding registers: 16-bit words that a controller lets others set. Function code 03, clause 6.3.</summary>
    HoldingRegisters = 3,

    /// <summary>Input registers: 16-bit words that can only be read. Function code 04, clause 6.4.</summary>
    InputRegisters = 4,
}
