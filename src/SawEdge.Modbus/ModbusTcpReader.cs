using System.Runtime.CompilerServices;

namespace SawEdge.Modbus;

/// <summary>
/// Reads a device by Modbus TCP over one connection, which all its units share. One request is on its way at a time; others
/// wait their turn. A request that gets no answer in time leaves the connection as it is, and its answer is recognised by its
/// transaction identifier and dropped if it comes after all. Anything that is not a valid answer closes the connection; the
/// next read makes a new one.
/// </summary>
public sealed class ModbusTcpReader : IModbusReader
{
    /// <summary>Requests in a row without a byte coming back, after which the connection counts as dead.</summary>
    public const int MaximumUnanswered = 3;

    private readonly ModbusTcpOptions _options;
    private readonly TimeProvider _time;
    private readonly TcpLink _link;
    private readonly SemaphoreSlim _gate = new(1, 1);
    private readonly ReusableTimeout _timeout;
    private readonly RequestPace _pace;
    private ModbusTcpConnection? _connection;
    private ushort _transaction;
    private long _closedLateAnswers;
    private volatile bool _isDisposed;

    /// <summary>Prepares a reader; the first read or <see cref="ConnectAsync"/> connects.</summary>
    /// <exception cref="ArgumentException">An option is out of its range.</exception>
    public ModbusTcpReader(ModbusTcpOptions options, TimeProvider time)
    {
        _link = new TcpLink(options, time, "Modbus TCP");
        _options = options;
        _time = time;
        _timeout = new ReusableTimeout(time);
        _pace = new RequestPace(time);
    }

    /// <inheritdoc/>
    public bool IsConnected => _connection is not null;

    /// <inheritdoc/>
    public long Connections { get; private set; }

    /// <inheritdoc/>
    public long LateAnswers => _closedLateAnswers + (_connection?.LateAnswers ?? 0);

    /// <inheritdoc/>
    public long SampledAt { get; private set; }

    /// <inheritdoc/>
    public async ValueTask ConnectAsync(CancellationToken cancellation)
    {
        await _gate.WaitAsync(cancellation);
        try
        {
            _connection ??= await OpenAsync(null, cancellation);
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
        if (!request.IsBits)
            throw new ArgumentException("Bits are read from coils or discrete inputs.", nameof(table));
        await _gate.WaitAsync(cancellation);
        try
        {
            var length = await ExchangeAsync(request, cancellation);
            ModbusPdu.CopyBits(_connection!.Pdu(length), into.Span);
            _connection.Release(length);
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
        if (request.IsBits)
            throw new ArgumentException("Registers are read from holding or input registers.", nameof(table));
        await _gate.WaitAsync(cancellation);
        try
        {
            var length = await ExchangeAsync(request, cancellation);
            ModbusPdu.CopyRegisters(_connection!.Pdu(length), into.Span);
            _connection.Release(length);
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
        _connection?.Dispose();
        await _gate.WaitAsync();
        Close();
        _timeout.Dispose();
        _pace.Dispose();
        _gate.Release();
    }

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private async ValueTask<int> ExchangeAsync(ReadRequest request, CancellationToken cancellation)
    {
        var isFresh = _connection is null;
        _connection ??= await OpenAsync(request, cancellation);
        try
        {
            return await ExchangeOnceAsync(_connection, request, cancellation);
        }
        catch (ModbusConnectionException) when (!isFresh && !_isDisposed && !cancellation.IsCancellationRequested)
        {
            // Devices close connections that were idle for a while, which shows only at the next request. Reading
            // changes nothing in the device, so it is asked again, once, over a new connection.
            _connection = await OpenAsync(request, cancellation);
            return await ExchangeOnceAsync(_connection, request, cancellation);
        }
    }

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private async ValueTask<int> ExchangeOnceAsync(ModbusTcpConnection connection, ReadRequest request, CancellationToken cancellation)
    {
        await _pace.WaitAsync(_options.Pause, cancellation);
        try
        {
            var sent = _time.GetTimestamp();
            var length = await connection.ExchangeAsync(++_transaction, request, _timeout.Start(_options.ResponseTimeout, cancellation));
            SampledAt = sent + ((_time.GetTimestamp() - sent) / 2);
            return length;
        }
        catch (OperationCanceledException)
        {
            if (connection.Unanswered >= MaximumUnanswered)
                Close();
            cancellation.ThrowIfCancellationRequested();
            throw new ModbusTimeoutException(_link.Endpoint, request, _options.ResponseTimeout, ModbusAdvice.NoAnswer);
        }
        catch (Exception e) when (e is not ModbusDeviceException)
        {
            Close();
            cancellation.ThrowIfCancellationRequested();
            throw;
        }
        finally
        {
            _timeout.Stop();
            _pace.Mark();
        }
    }

    private async ValueTask<ModbusTcpConnection> OpenAsync(ReadRequest? request, CancellationToken cancellation)
    {
        ObjectDisposedException.ThrowIf(_isDisposed, this);
        var socket = await _link.OpenAsync(request, cancellation);
        Connections++;
        return new ModbusTcpConnection(socket, _link.Endpoint);
    }

    private void Close()
    {
        _closedLateAnswers += _connection?.LateAnswers ?? 0;
        _connection?.Dispose();
        _connection = null;
    }
}
