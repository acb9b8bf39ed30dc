using System.Runtime.CompilerServices;

namespace SawEdge.Modbus;

/// <summary>
/// Reads the units on a serial line by Modbus RTU, over a line of this machine or over a serial server's TCP port. One request is on the line at a
/// time; others wait their turn. What is no answer is passed over until the response timeout; the line stays open.
/// </summary>
/// <remarks>
/// An answer names neither its transaction nor its address. So that a late one is never taken for another's, the line is emptied before
/// each request, has to be silent after trouble, and a unit that did not answer is first asked something whose answer
/// cannot be mistaken, before it is asked something whose answer can (<see cref="UnansweredRequests"/>).
/// </remarks>
public sealed class ModbusRtuReader : ModbusReader
{
    /// <summary>Requests in a row without a byte coming back, after which a TCP connection counts as dead.</summary>
    public const int MaximumUnanswered = ModbusTcpReader.MaximumUnanswered;

    // No unit answers after so many response timeouts.
    private const int ForgottenAfterTimeouts = 10;

    // Adapters deliver what comes over the line in pieces, up to 16 ms apart (common practice, no source).
    private static readonly TimeSpan Settling = TimeSpan.FromMilliseconds(20);

    private readonly RtuTransport _transport;
    private readonly RtuInput _input = new();
    private readonly UnansweredRequests _unanswered = new();
    private readonly byte[] _answer = new byte[RtuFrame.MaximumLength];
    private readonly byte[] _taken = new byte[RtuFrame.MaximumLength];
    private IByteLine? _line;
    private int _silentRequests;
    private bool _mustSettle;
    private long _lateAnswers;

    /// <summary>Prepares a reader of RTU over TCP; the first read or <see cref="ModbusReader.ConnectAsync"/> connects.</summary>
    /// <exception cref="ArgumentException">An option is out of its range.</exception>
    public ModbusRtuReader(ModbusTcpOptions options, TimeProvider time)
        : this(new RtuTcpTransport(options, time), time)
    {
    }

    /// <summary>Prepares a reader of a serial line; the first read or <see cref="ModbusReader.ConnectAsync"/> opens it, for this process alone.</summary>
    /// <exception cref="ArgumentException">An option is out of its range.</exception>
    public ModbusRtuReader(ModbusSerialOptions options, TimeProvider time)
        : this(new SerialTransport(options, OperatingSystem.IsLinux()), time)
    {
    }

    internal ModbusRtuReader(RtuTransport transport, TimeProvider time)
        : base(time)
    {
        _transport = transport;
    }

    /// <inheritdoc/>
    public override bool IsConnected => _line is not null;

    /// <inheritdoc/>
    public override long LateAnswers => _lateAnswers;

    /// <summary>Bytes that came since the latest request was sent.</summary>
    internal int ReceivedBytes => _input.Received;

    private protected override void Check(byte unit) => RtuFrame.CheckUnit(unit);

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private protected override async ValueTask<int> ExchangeOnceAsync(ReadRequest request, CancellationToken cancellation)
    {
        if (_unanswered.Count > 0)
        {
            _unanswered.ForgetBefore(Time.GetTimestamp() - (long)(ForgottenAfterTimeouts * _transport.ResponseTimeout.TotalSeconds * Time.TimestampFrequency));
            if (_unanswered.CanBeMistakenFor(request))
                await ClearAsync(request, cancellation);
        }

        return await AskAsync(request, request, cancellation);
    }

    /// <summary>Asks a unit that owes answers something whose answer cannot be mistaken for one of those; then none of them can come any more.</summary>
    private async ValueTask ClearAsync(ReadRequest request, CancellationToken cancellation)
    {
        var distinct = _unanswered.Distinct(request);
        try
        {
            await AskAsync(distinct, request, cancellation);
        }
        catch (ModbusDeviceException)
        {
            // Either this request was refused, after which nothing older can come, or an older one was, and with that
            // it came. What is left to come is at most the answer to this one, which is no other's.
            _unanswered.Answered(request.Unit);
            _unanswered.Add(distinct, Time.GetTimestamp());
        }
    }

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private async ValueTask<int> AskAsync(ReadRequest request, ReadRequest wanted, CancellationToken cancellation)
    {
        try
        {
            await Pace.WaitAsync(_transport.Pause, cancellation);
            await EmptyAsync(wanted, cancellation);
            return await SendAndReceiveAsync(request, wanted, cancellation);
        }
        catch (Exception e) when (RtuTransport.IsLoss(e))
        {
            Close();
            cancellation.ThrowIfCancellationRequested();
            throw Lost(wanted, e);
        }
        finally
        {
            Pace.Mark();
        }
    }

    /// <summary>Takes what is on the line before a request is sent, and waits for silence where there is reason to.</summary>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder))]
    private async ValueTask EmptyAsync(ReadRequest wanted, CancellationToken cancellation)
    {
        var began = Time.GetTimestamp();
        var bytes = await TakeAllAsync(cancellation);
        while (bytes > 0 || _mustSettle)
        {
            if (Time.GetElapsedTime(began) > _transport.ResponseTimeout)
            {
                _mustSettle = true;
                CloseWhereThatHelps();
                throw NoAnswerOfOurs(wanted, "the line is never silent, bytes come without a request");
            }

            Pace.Mark();
            await Pace.WaitAsync(_transport.Pause > Settling ? _transport.Pause : Settling, cancellation);
            bytes = await TakeAllAsync(cancellation);
            _mustSettle = false;
        }
    }

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private async ValueTask<int> TakeAllAsync(CancellationToken cancellation)
    {
        var total = 0;
        while (total < RtuInput.MostBytes && await _line!.TakeAsync(_taken, cancellation) is var count and > 0)
        {
            total += count;
            NoteLateAnswers(_taken.AsSpan(0, count));
        }

        return total;
    }

    private void NoteLateAnswers(ReadOnlySpan<byte> bytes)
    {
        while (RtuFrame.LengthOf(bytes) is var length and > 0 && length <= bytes.Length && _unanswered.Takes(bytes[..length]))
        {
            _lateAnswers++;
            bytes = bytes[length..];
        }
    }

    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    private async ValueTask<int> SendAndReceiveAsync(ReadRequest request, ReadRequest wanted, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        var allowed = _transport.ResponseTimeout + _transport.TimeOf(RtuFrame.RequestLength + RtuFrame.AnswerLength(request));
        _input.Begin(request);
        var mayBeAnswered = true;
        var token = Timeout.Start(allowed, cancellation);
        var sent = Time.GetTimestamp();
        try
        {
            await _line!.SendAsync(_input.Sent, token);
            while (true)
            {
                var count = await _line.ReceiveAsync(_input.Space, token);
                if (count == 0)
                    throw new IOException("The other side has closed.");
                _input.Add(count);
                if (TryTakeAnswer(out var length))
                {
                    mayBeAnswered = false;
                    SampledAt = BetweenFrames(sent, Time.GetTimestamp(), length);
                    return Check(request, wanted, length);
                }

                if (_input.Received <= RtuInput.MostBytes)
                    continue;
                CloseWhereThatHelps();
                throw NoAnswerOfOurs(wanted, $"{_input.Fault() ?? "no answer"} among the first {RtuInput.MostBytes} bytes");
            }
        }
        catch (Exception e) when (RtuTransport.IsLoss(e))
        {
            // What was on its way went with the line.
            mayBeAnswered = false;
            throw;
        }
        catch (OperationCanceledException)
        {
            _silentRequests = _input.Received == 0 ? _silentRequests + 1 : 0;
            if (_silentRequests >= MaximumUnanswered)
                CloseWhereThatHelps();
            cancellation.ThrowIfCancellationRequested();
            throw _input.Fault() is { } fault
                ? NoAnswerOfOurs(wanted, fault)
                : new ModbusTimeoutException(_transport.Endpoint, wanted, _transport.ResponseTimeout, _transport.NoAnswerAdvice);
        }
        finally
        {
            Timeout.Stop();
            if (mayBeAnswered)
                _unanswered.Add(request, Time.GetTimestamp());
            _mustSettle |= mayBeAnswered;
        }
    }

    /// <summary>Half way between the end of the request and the beginning of the answer, which both take their time on the line.</summary>
    private long BetweenFrames(long sent, long received, int answerLength)
    {
        var later = (_transport.TimeOf(RtuFrame.RequestLength) - _transport.TimeOf(answerLength)).TotalSeconds / 2;
        return Math.Clamp(sent + ((received - sent) / 2) + (long)(later * Time.TimestampFrequency), sent, received);
    }

    private bool TryTakeAnswer(out int length)
    {
        var isThere = _input.TryFind(_unanswered, ref _lateAnswers, out var answer);
        length = answer.Length;
        answer.CopyTo(_answer);
        return isThere;
    }

    private int Check(in ReadRequest request, in ReadRequest wanted, int length)
    {
        _silentRequests = 0;
        if (_input.Exception == ModbusExceptionCode.None)
        {
            // Its values came; whatever was asked before it is settled.
            _unanswered.Answered(request.Unit);
            return length;
        }

        // The refusal may be a late one, and then the answer to this request is still to come.
        if (_unanswered.HasAny(request.Unit, request.Table))
            _unanswered.Add(request, Time.GetTimestamp());
        throw new ModbusDeviceException(_transport.Endpoint, wanted, _input.Exception);
    }

    private protected override async ValueTask OpenAsync(ReadRequest? request, CancellationToken cancellation)
    {
        ObjectDisposedException.ThrowIf(IsDisposed, this);
        _line = await _transport.OpenAsync(request, cancellation);
        _silentRequests = 0;
        Connections++;
        if (!IsDisposed)
            return;
        Close();
        throw Lost(request, null);
    }

    private void CloseWhereThatHelps()
    {
        if (_transport.ReopensAfterTrouble)
            Close();
    }

    private protected override ReadOnlySpan<byte> Answer(int length) => RtuFrame.Pdu(_answer.AsSpan(0, length));

    private protected override void Release(int length)
    {
        // It lies in a place of its own.
    }

    private protected override void Abort() => _line?.Dispose();

    private protected override void Close()
    {
        _line?.Dispose();
        _line = null;
    }

    private ModbusProtocolException NoAnswerOfOurs(in ReadRequest request, string fault) =>
        new(_transport.Endpoint, request, fault, _transport.NoAnswerOfOursAdvice);

    private ModbusConnectionException Lost(ReadRequest? request, Exception? reason) =>
        new(_transport.Endpoint, request, _transport.ExplainLoss(reason), reason);
}
