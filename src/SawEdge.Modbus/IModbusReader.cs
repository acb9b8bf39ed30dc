namespace SawEdge.Modbus;

/// <summary>
/// Reads a Modbus device: the only door to it. It can read and nothing else, so that what stands behind it can be replaced
/// without giving anybody the means to write. Requests may come from several callers; one at a time is on its way.
/// </summary>
public interface IModbusReader : IAsyncDisposable
{
    /// <summary>Whether there is a connection, as far as is known without asking the device.</summary>
    bool IsConnected { get; }

    /// <summary>Connections made so far.</summary>
    long Connections { get; }

    /// <summary>Answers that came after their request was given up, and were dropped.</summary>
    long LateAnswers { get; }

    /// <summary>
    /// The moment when the device took the values of the latest answer, as near as can be known, a timestamp of the reader's clock: half way
    /// between question and answer, without the time that both spend on a serial line, or that the reader waited before it asked.
    /// </summary>
    long SampledAt { get; }

    /// <summary>Makes a connection where there is none. Reading does this too; calling it first lets a caller pace the attempts.</summary>
    /// <exception cref="ModbusConnectionException">The device cannot be reached.</exception>
    ValueTask ConnectAsync(CancellationToken cancellation);

    /// <summary>Reads neighbouring bits.</summary>
    /// <param name="unit">Unit identifier.</param>
    /// <param name="table"><see cref="ModbusTable.Coils"/> or <see cref="ModbusTable.DiscreteInputs"/>.</param>
    /// <param name="address">Protocol address of the first, from 0.</param>
    /// <param name="into">Takes the values; its length is the quantity. Left as it is where the read fails.</param>
    /// <param name="cancellation">Gives up waiting.</param>
    /// <exception cref="ArgumentException">The request is outside the protocol's limits.</exception>
    /// <exception cref="ModbusException">No valid answer with values came; the kinds derive from this one.</exception>
    ValueTask ReadBitsAsync(byte unit, ModbusTable table, ushort address, Memory<bool> into, CancellationToken cancellation);

    /// <summary>Reads neighbouring registers.</summary>
    /// <param name="unit">Unit identifier.</param>
    /// <param name="table"><see cref="ModbusTable.HoldingRegisters"/> or <see cref="ModbusTable.InputRegisters"/>.</param>
    /// <param name="address">Protocol address of the first, from 0.</param>
    /// <param name="into">Takes the values; its length is the quantity. Left as it is where the read fails.</param>
    /// <param name="cancellation">Gives up waiting.</param>
    /// <exception cref="ArgumentException">The request is outside the protocol's limits.</exception>
    /// <exception cref="ModbusException">No valid answer with values came; the kinds derive from this one.</exception>
    ValueTask ReadRegistersAsync(byte unit, ModbusTable table, ushort address, Memory<ushort> into, CancellationToken cancellation);
}
