using System.Runtime.CompilerServices;

namespace SawEdge.Modbus;

/// <summary>
/// Reads a device by Modbus TCP over one connection, which all its units share. One request is on its way at a time; others
/// wait their turn. A request that gets no answer in time leaves the connection as it is, and its answer is recognised by its
/// transaction identifier and dropped if it comes after all. Anything that is not a valid answer closes the connection; the
/// next read makes a new one.
/// </summary>
public sealed class ModbusTcpReader : ModbusReader
{
    /// <summary>Requests in a row without a byte coming back, after which the connection counts as dead.</summary>
    public const int MaximumUnanswered = 3;

    private readonly ModbusTcpOptions _options;
    private readonly TcpLink _link;
    private ModbusTcpConnection? _connection;
    private ushort _transaction;
    private long _closedLateAnswers;

    /// <summary>Prepares a reader; the first read or <see cref="ModbusReader.ConnectAsync"/> connects.</summary>
    /// <exception cref="ArgumentException">An option is out of its range.</exception>
    public ModbusTcpReader(ModbusTcpOptions options, TimeProvider time)
        : base(time)
    {
        _link = new TcpLink(options, time, "Modbus TCP");
        _options = options;
    }

    /// <inheritdoc/>
    public override bool IsConnected => _connection is not null;

    /// <inheritdoc/>
    public override long LateAnswers => _closedLateAnswers + (_connection?.LateAnswers ?? 0);

    private protected override void Check(byte unit)
    {
        // Behind TCP a device has whatever units it likes.
    }

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private protected override async ValueTask<int> ExchangeOnceAsync(ReadRequest request, CancellationToken cancellation)
    {
        var connection = _connection!;
        await Pace.WaitAsync(_options.Pause, cancellation);
        try
        {
            var sent = Time.GetTimestamp();
            var length = await connection.ExchangeAsync(++_transaction, request, Timeout.Start(_options.ResponseTimeout, cancellation));
            SampledAt = sent + ((Time.GetTimestamp() - sent) / 2);
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
            Timeout.Stop();
            Pace.Mark();
        }
    }

    private protected override async ValueTask OpenAsync(ReadRequest? request, CancellationToken cancellation)
    {
        ObjectDisposedException.ThrowIf(IsDisposed, this);
        var socket = await _link.OpenAsync(request, cancellation);
        Connections++;
        _connection = new ModbusTcpConnection(socket, _link.Endpoint);
    }

    private protected override ReadOnlySpan<byte> Answer(int length) => _connection!.Pdu(length);

    private protected override void Release(int length) => _connection!.Release(length);

    private protected override void Abort() => _connection?.Dispose();

    private protected override void Close()
    {
        _closedLateAnswers += _connection?.LateAnswers ?? 0;
        _connection?.Dispose();
        _connection = null;
    }
}
