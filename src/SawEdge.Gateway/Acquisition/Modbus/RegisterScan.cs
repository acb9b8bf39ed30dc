using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>A device could not be read at all; the message says what to check.</summary>
public sealed class ScanException(string message, Exception inner) : IOException(message, inner);

/// <summary>
/// Reads ranges of a unit for a person who looks for a value: in few requests, one after the other with a pause between them, and where
/// the device refuses a range, in smaller ones, down to single registers. It only reads.
/// </summary>
public sealed class RegisterScan : IAsyncDisposable
{
    /// <summary>The pause between requests where none is configured: a scan is nobody's first concern in the controller.</summary>
    public static readonly TimeSpan UsualPause = TimeSpan.FromMilliseconds(20);

    private const int MostBusy = 5;
    private const int MostSilent = 2;
    private static readonly TimeSpan BusyPause = TimeSpan.FromMilliseconds(500);

    private readonly byte _unit;
    private readonly TimeProvider _time;
    private readonly IModbusReader _reader;
    private readonly TimeSpan _pause;
    private int _silent;

    /// <summary>Prepares to read; the first request connects.</summary>
    /// <param name="device">The device.</param>
    /// <param name="unit">Unit identifier.</param>
    /// <param name="time">Pauses and timeouts.</param>
    public RegisterScan(ModbusDeviceOptions device, byte unit, TimeProvider time)
    {
        _unit = unit;
        _time = time;
        _reader = ModbusReaders.Open(device, time);
        _pause = device.Pause > UsualPause ? device.Pause : UsualPause;
    }

    /// <summary>Most registers or bits in one request.</summary>
    public static int Limit(RegisterTable table) => ReadRequest.Limit(PlannedRead.ToTable(table));

    /// <summary>Reads a range.</summary>
    /// <param name="table">The table.</param>
    /// <param name="first">Protocol address of the first.</param>
    /// <param name="count">How many; the last must not lie past 65535.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="ScanException">Nothing could be read.</exception>
    public Task<ScannedBlock> ReadAsync(RegisterTable table, ushort first, int count, CancellationToken cancellation)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(count, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(first + count, ReadRequest.AddressSpace);
        var ranges = new Stack<(int Index, int Length)>();
        Push(ranges, 0, count, Limit(table));
        return ReadAsync(new ScannedBlock(table, first, count), ranges, cancellation);
    }

    /// <summary>Reads a range again, without asking for what was not there.</summary>
    /// <param name="before">The range as it was read before.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="ScanException">Nothing could be read.</exception>
    public Task<ScannedBlock> ReadAgainAsync(ScannedBlock before, CancellationToken cancellation)
    {
        var block = new ScannedBlock(before.Table, before.First, before.Count);
        var ranges = new Stack<(int Index, int Length)>();
        for (var end = before.Count; end > 0;)
        {
            var start = end - 1;
            while (start > 0 && before.StateOf(start - 1) == before.StateOf(end - 1))
                start--;
            if (before.StateOf(start) == ScannedState.Read)
                Push(ranges, start, end - start, Limit(before.Table));
            else
                block.Mark(start, end - start, before.StateOf(start));
            end = start;
        }

        return ReadAsync(block, ranges, cancellation);
    }

    private async Task<ScannedBlock> ReadAsync(ScannedBlock block, Stack<(int Index, int Length)> ranges, CancellationToken cancellation)
    {
        _silent = 0;
        while (ranges.TryPop(out var range))
        {
            try
            {
                await ReadAsync(block, range, ranges, cancellation);
            }
            catch (ModbusException e)
            {
                // Nothing that follows would come either. What was read so far is shown.
                if (block.ReadCount == 0)
                    throw new ScanException(e.Message, e);
                block.BrokenOff = e.Message;
                block.Mark(range.Index, range.Length, ScannedState.NoAnswer);
                break;
            }

            if (ranges.Count > 0)
                await Task.Delay(_pause, _time, cancellation);
        }

        return block;
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => _reader.DisposeAsync();

    // The last comes first onto the stack, so that the first is read first.
    private static void Push(Stack<(int Index, int Length)> ranges, int index, int length, int limit)
    {
        for (var at = (length - 1) / limit * limit; at >= 0; at -= limit)
            ranges.Push((index + at, Math.Min(limit, length - at)));
    }

    private async Task ReadAsync(ScannedBlock block, (int Index, int Length) range, Stack<(int Index, int Length)> rest, CancellationToken cancellation)
    {
        for (var busy = 0; ; busy++)
        {
            try
            {
                block.Requests++;
                await ReadOnceAsync(block, range, cancellation);
                _silent = 0;
                return;
            }
            catch (ModbusDeviceException e) when (e.Code is ModbusExceptionCode.ServerDeviceBusy or ModbusExceptionCode.Acknowledge && busy < MostBusy)
            {
                await Task.Delay(BusyPause, _time, cancellation);
            }
            catch (ModbusDeviceException e) when (e.Code is ModbusExceptionCode.IllegalDataAddress or ModbusExceptionCode.IllegalDataValue or ModbusExceptionCode.ServerDeviceFailure)
            {
                _silent = 0;
                Split(block, range, rest);
                return;
            }
            catch (ModbusTimeoutException) when (busy == 0 && _silent == 0)
            {
                // One answer may be lost on the way.
            }
            catch (ModbusTimeoutException) when (block.ReadCount > 0 && _silent + 1 < MostSilent)
            {
                // Some devices are silent about what they do not have, instead of saying so.
                _silent++;
                block.Mark(range.Index, range.Length, ScannedState.NoAnswer);
                return;
            }
        }
    }

    private async Task ReadOnceAsync(ScannedBlock block, (int Index, int Length) range, CancellationToken cancellation)
    {
        var table = PlannedRead.ToTable(block.Table);
        var address = (ushort)(block.First + range.Index);
        var words = new ushort[range.Length];
        if (block.IsBits)
        {
            var bits = new bool[range.Length];
            await _reader.ReadBitsAsync(_unit, table, address, bits, cancellation);
            for (var i = 0; i < bits.Length; i++)
                words[i] = bits[i] ? (ushort)1 : (ushort)0;
        }
        else
        {
            await _reader.ReadRegistersAsync(_unit, table, address, words, cancellation);
        }

        block.Keep(range.Index, words);
    }

    // The halves have an even length, as long as there is more than one pair: some devices give two registers together or none.
    private static void Split(ScannedBlock block, (int Index, int Length) range, Stack<(int Index, int Length)> rest)
    {
        if (range.Length == 1)
        {
            block.Mark(range.Index, 1, ScannedState.NotThere);
            return;
        }

        var half = range.Length > 2 ? ((range.Length / 2) + 1) & ~1 : 1;
        rest.Push((range.Index + half, range.Length - half));
        rest.Push((range.Index, half));
    }
}
