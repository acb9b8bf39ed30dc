using System.Runtime.CompilerServices;

namespace SawEdge.Modbus;

/// <summary>
/// What the readers of all transports have in common: one request on its way at a time, others waiting their turn, and one second attempt
/// over a new connection where an old one turns out to be gone.
/// </summary>
public abstract class ModbusReader : IModbusReader
{
    private readonly SemaphoreSlim _gate = new(1, 1);
    private volatile bool _isDisposed;

    private protected ModbusReader(TimeProvider time)
    {
        Time = time;
        Timeout = new ReusableTimeout(time);
        Pace = new RequestPace(time);
    }

    /// <inheritdoc/>
    public abstract bool IsConnected { get; }

    /// <inheritdoc/>
    public long Connections { get; private protected set; }

    /// <inheritdoc/>
    public abstract long LateAnswers { get; }

    /// <inheritdoc/>
    public long SampledAt { get; private protected set; }

    private protected TimeProvider Time { get; }

    private protected ReusableTimeout Timeout { get; }

    private protected RequestPace Pace { get; }

    private protected bool IsDisposed => _isDisposed;

    /// <inheritdoc/>
    public async ValueTask ConnectAsync(CancellationToken cancellation)
    {
        await _gate.WaitAsync(cancellation);
        try
        {
            if (!IsConnected)
                await OpenAsync(null, cancellation);
        }
        finally
        {
            _gate.Release();
        }
    }

    /// <inheritdoc/>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder))]
    public async ValueTask ReadBitsAsync(byte unit, ModbusTable table, ushort address, Memory<bool> into, CancellationToken cancellation)
    {
        var request = new ReadRequest(unit, table, address, into.Length);
        Check(unit);
        if (!request.IsBits)
            throw new ArgumentException("Bits are read from coils or discrete inputs.", nameof(table));
        await _gate.WaitAsync(cancellation);
        try
        {
            var length = await ExchangeAsync(request, cancellation);
            ModbusPdu.CopyBits(Answer(length), into.Span);
            Release(length);
        }
        finally
        {
            _gate.Release();
        }
    }

    /// <inheritdoc/>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder))]
    public async ValueTask ReadRegistersAsync(byte unit, ModbusTable table, ushort address, Memory<ushort> into, CancellationToken cancellation)
    {
        var request = new ReadRequest(unit, table, address, into.Length);
        Check(unit);
        if (request.IsBits)
            throw new ArgumentException("Registers are read from holding or input registers.", nameof(table));
        await _gate.WaitAsync(cancellation);
        try
        {
            var length = await ExchangeAsync(request, cancellation);
            ModbusPdu.CopyRegisters(Answer(length), into.Span);
            Release(length);
        }
        finally
        {
            _gate.Release();
        }
    }

    /// <summary>Closes the connection. A read on its way ends with a <see cref="ModbusConnectionException"/>.</summary>
    public async ValueTask DisposeAsync()
    {
        if (_isDisposed)
            return;
        _isDisposed = true;
        Abort();
        await _gate.WaitAsync();
        Close();
        Timeout.Dispose();
        Pace.Dispose();
        _gate.Release();
        GC.SuppressFinalize(this);
    }

    /// <summary>Refuses a unit that the transport cannot ask.</summary>
    private protected abstract void Check(byte unit);

    /// <summary>Opens the connection.</summary>
    private protected abstract ValueTask OpenAsync(ReadRequest? request, CancellationToken cancellation);

    /// <summary>Asks over the open connection.</summary>
    /// <returns>What <see cref="Answer"/> and <see cref="Release"/> want to know of the answer.</returns>
    private protected abstract ValueTask<int> ExchangeOnceAsync(ReadRequest request, CancellationToken cancellation);

    /// <summary>The answer's protocol data unit.</summary>
    private protected abstract ReadOnlySpan<byte> Answer(int length);

    /// <summary>The answer was taken.</summary>
    private protected abstract void Release(int length);

    /// <summary>Takes the connection away from whoever waits on it.</summary>
    private protected abstract void Abort();

    /// <summary>Closes the connection where there is one.</summary>
    private protected abstract void Close();

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private async ValueTask<int> ExchangeAsync(ReadRequest request, CancellationToken cancellation)
    {
        var isFresh = !IsConnected;
        if (isFresh)
            await OpenAsync(request, cancellation);
        try
        {
            return await ExchangeOnceAsync(request, cancellation);
        }
        catch (ModbusConnectionException) when (!isFresh && !_isDisposed && !cancellation.IsCancellationRequested)
        {
            // Devices and serial servers close connections that were idle for a while, which shows only at the next request.
            // Reading changes nothing in the device, so it is asked again, once, over a new connection.
            await OpenAsync(request, cancellation);
            return await ExchangeOnceAsync(request, cancellation);
        }
    }
}
