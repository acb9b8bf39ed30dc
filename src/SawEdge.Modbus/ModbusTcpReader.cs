using System.Globalization;
using System.Net.Sockets;
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
    private readonly string _endpoint;
    private readonly SemaphoreSlim _gate = new(1, 1);
    private readonly ReusableTimeout _timeout;
    private ModbusTcpConnection? _connection;
    private ushort _transaction;
    private long _closedLateAnswers;
    private volatile bool _isDisposed;

    /// <summary>Prepares a reader; the first read or <see cref="ConnectAsync"/> connects.</summary>
    /// <exception cref="ArgumentException">An option is out of its range.</exception>
    public ModbusTcpReader(ModbusTcpOptions options, TimeProvider time)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(options.Host);
        ArgumentOutOfRangeException.ThrowIfLessThan(options.Port, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(options.Port, ushort.MaxValue);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(options.ConnectTimeout, TimeSpan.Zero);
        ArgumentOutOfRangeException.ThrowIfLessThanOrEqual(options.ResponseTimeout, TimeSpan.Zero);
        _options = options;
        _time = time;
        _timeout = new ReusableTimeout(time);
        _endpoint = string.Create(CultureInfo.InvariantCulture, $"{(options.Host.Contains(':', StringComparison.Ordinal) ? $"[{options.Host}]" : options.Host)}:{options.Port}");
    }

    /// <inheritdoc/>
    public bool IsConnected => _connection is not null;

    /// <summary>Connections made so far.</summary>
    public long Connections { get; private set; }

    /// <summary>Answers that came after their request was given up, and were dropped.</summary>
    public long LateAnswers => _closedLateAnswers + (_connection?.LateAnswers ?? 0);

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
        try
        {
            return await connection.ExchangeAsync(++_transaction, request, _timeout.Start(_options.ResponseTimeout, cancellation));
        }
        catch (OperationCanceledException)
        {
            if (connection.Unanswered >= MaximumUnanswered)
                Close();
            cancellation.ThrowIfCancellationRequested();
            throw new ModbusTimeoutException(_endpoint, request, _options.ResponseTimeout);
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
        }
    }

    private async ValueTask<ModbusTcpConnection> OpenAsync(ReadRequest? request, CancellationToken cancellation)
    {
        ObjectDisposedException.ThrowIf(_isDisposed, this);
        var socket = new Socket(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
        using var timeout = new CancellationTokenSource(_options.ConnectTimeout, _time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(cancellation, timeout.Token);
        try
        {
            await socket.ConnectAsync(_options.Host, _options.Port, either.Token);
            socket.SetSocketOption(SocketOptionLevel.Socket, SocketOptionName.KeepAlive, true);
            Connections++;
            return new ModbusTcpConnection(socket, _endpoint);
        }
        catch (SocketException e)
        {
            socket.Dispose();
            throw new ModbusConnectionException(_endpoint, request, Explain(e), e);
        }
        catch (OperationCanceledException e) when (!cancellation.IsCancellationRequested)
        {
            socket.Dispose();
            var text = string.Create(CultureInfo.InvariantCulture, $"no connection within {_options.ConnectTimeout.TotalSeconds:0.###} s. Check the address, the cable, the device's power, and firewalls on the way.");
            throw new ModbusConnectionException(_endpoint, request, text, e);
        }
        catch
        {
            socket.Dispose();
            throw;
        }
    }

    private void Close()
    {
        _closedLateAnswers += _connection?.LateAnswers ?? 0;
        _connection?.Dispose();
        _connection = null;
    }

    private static string Explain(SocketException e) => e.SocketErrorCode switch
    {
        SocketError.ConnectionRefused =>
            "the connection was refused: nothing listens there, or the device has no connection left. Check that Modbus TCP is switched on, the port, and how many clients it allows.",
        SocketError.HostNotFound or SocketError.NoData or SocketError.TryAgain =>
            "the host name is not known. Check its spelling and the name server, or use the address.",
        SocketError.HostUnreachable or SocketError.NetworkUnreachable =>
            "there is no way to this address. Check the cable, the address and mask, and the route.",
        SocketError.TimedOut =>
            "the device does not take the connection. Check the address, the cable, the device's power, and firewalls on the way.",
        _ =>
            $"the connection failed ({e.Message}). Check the address, the network and the device's power.",
    };
}
