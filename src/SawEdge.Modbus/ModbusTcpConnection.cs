using System.Globalization;
using System.Net.Sockets;
using System.Runtime.CompilerServices;

namespace SawEdge.Modbus;

/// <summary>
/// One TCP connection to a device and what came over it so far. One request at a time; the caller sees to that. After a
/// connection or protocol exception it is of no further use.
/// </summary>
internal sealed class ModbusTcpConnection(Socket socket, string endpoint) : IDisposable
{
    private readonly byte[] _request = new byte[MbapFrame.RequestLength];
    private readonly byte[] _received = new byte[2 * MbapFrame.MaximumLength];
    private readonly AbandonedTransactions _abandoned = new();
    private int _count;

    /// <summary>Valid answers to present requests so far, exceptions among them.</summary>
    public long Answers { get; private set; }

    /// <summary>Answers that came after their request was given up.</summary>
    public long LateAnswers { get; private set; }

    /// <summary>Requests in a row that were given up with nothing at all coming in between.</summary>
    public int Unanswered { get; private set; }

    /// <summary>Sends a request and waits for its answer, which stays in the buffer until <see cref="Release"/>.</summary>
    /// <returns>Length of the answer's frame: the buffer's first bytes. It is a valid answer with values.</returns>
    /// <exception cref="OperationCanceledException">The token was cancelled; the connection can still be used.</exception>
    /// <exception cref="ModbusDeviceException">The device refuses; the connection can still be used.</exception>
    /// <exception cref="ModbusProtocolException">What came is no valid answer.</exception>
    /// <exception cref="ModbusConnectionException">The connection was lost.</exception>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    public async ValueTask<int> ExchangeAsync(ushort transaction, ReadRequest request, CancellationToken cancellation)
    {
        await SendAsync(transaction, request, cancellation);
        var hasAnswer = false;
        try
        {
            while (true)
            {
                var length = FindAnswer(transaction, request);
                if (length > 0)
                {
                    hasAnswer = true;
                    return length;
                }

                await ReceiveAsync(request, cancellation);
            }
        }
        catch (OperationCanceledException)
        {
            Unanswered++;
            throw;
        }
        finally
        {
            if (!hasAnswer)
                _abandoned.Add(transaction);
        }
    }

    /// <summary>The answer's protocol data unit.</summary>
    public ReadOnlySpan<byte> Pdu(int length) => MbapFrame.Pdu(_received.AsSpan(0, length));

    /// <summary>Removes an answer from the buffer.</summary>
    public void Release(int length)
    {
        _count -= length;
        if (_count > 0)
            _received.AsSpan(length, _count).CopyTo(_received);
    }

    /// <inheritdoc/>
    public void Dispose() => socket.Dispose();

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder))]
    private async ValueTask SendAsync(ushort transaction, ReadRequest request, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        _abandoned.Remove(transaction);
        MbapFrame.Encode(transaction, request, _request);
        var sent = 0;
        try
        {
            while (sent < _request.Length)
                sent += await socket.SendAsync(_request.AsMemory(sent), SocketFlags.None, cancellation);
        }
        catch (Exception e) when (e is SocketException or ObjectDisposedException or OperationCanceledException)
        {
            // Part of a request may be out: nothing that follows on this connection would be understood.
            throw Lost(request, e);
        }
    }

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder))]
    private async ValueTask ReceiveAsync(ReadRequest request, CancellationToken cancellation)
    {
        int received;
        try
        {
            received = await socket.ReceiveAsync(_received.AsMemory(_count), SocketFlags.None, cancellation);
        }
        catch (Exception e) when (e is SocketException or ObjectDisposedException)
        {
            throw Lost(request, e);
        }

        if (received == 0)
        {
            throw _count == 0
                ? Lost(request, null)
                : Fault(request, string.Create(CultureInfo.InvariantCulture, $"the device closed the connection {_count} bytes into a frame"));
        }

        Unanswered = 0;
        _count += received;
    }

    /// <summary>Looks for the answer among what was received; drops answers to requests that were given up.</summary>
    /// <returns>Length of the answer's frame, or 0 where it is not there yet.</returns>
    private int FindAnswer(ushort transaction, in ReadRequest request)
    {
        while (MbapFrame.TryReadTransaction(_received.AsSpan(0, _count), out var id))
        {
            var isLate = id != transaction && _abandoned.Contains(id);
            if (id != transaction && !isLate)
                throw Fault(request, string.Create(CultureInfo.InvariantCulture, $"the answer is for transaction {id}, asked was {transaction}"));

            if (MbapFrame.FindFault(_received.AsSpan(0, _count), out var length) is { } headerFault)
                throw Fault(request, headerFault);
            if (!isLate && length > 0 && !ModbusPdu.CanHaveLength(request, length - MbapFrame.HeaderLength))
                throw Fault(request, string.Create(CultureInfo.InvariantCulture, $"the answer is announced with {length - MbapFrame.HeaderLength} bytes, due are {ModbusPdu.AnswerLength(request)}"));
            if (length == 0 || _count < length)
                return 0;
            if (!isLate)
                return CheckAnswer(request, length);

            _abandoned.Remove(id);
            LateAnswers++;
            Release(length);
        }

        return 0;
    }

    private int CheckAnswer(in ReadRequest request, int length)
    {
        var frame = _received.AsSpan(0, length);
        if (MbapFrame.Unit(frame) != request.Unit)
            throw Fault(request, string.Create(CultureInfo.InvariantCulture, $"the answer is from unit {MbapFrame.Unit(frame)}"));
        if (ModbusPdu.FindFault(request, MbapFrame.Pdu(frame), out var exception) is { } fault)
            throw Fault(request, fault);

        // Whatever follows the answer at once can only be an answer to a request that was given up.
        var rest = _received.AsSpan(length, _count - length);
        if (rest.Length > 0 && !(MbapFrame.TryReadTransaction(rest, out var next) && _abandoned.Contains(next)))
            throw Fault(request, string.Create(CultureInfo.InvariantCulture, $"{rest.Length} bytes follow the answer"));

        Answers++;
        if (exception == ModbusExceptionCode.None)
            return length;
        Release(length);
        throw new ModbusDeviceException(endpoint, request, exception);
    }

    private ModbusProtocolException Fault(in ReadRequest request, string fault) => new(endpoint, request, fault, ModbusAdvice.TcpNoAnswerOfOurs);

    private ModbusConnectionException Lost(in ReadRequest request, Exception? inner) =>
        new(endpoint, request, "the connection was lost. Check the device's power and network, and whether it takes only a few connections at once.", inner);
}
