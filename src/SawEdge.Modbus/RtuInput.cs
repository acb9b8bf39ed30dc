using System.Globalization;

namespace SawEdge.Modbus;

/// <summary>
/// What came over an RTU line since a request was sent, and the search for its answer in it. Knows nothing of time or
/// transport; not for use by two at once.
/// </summary>
/// <remarks>
/// <para>An answer is taken wherever it begins, with noise before it: unit, function and byte count must be those that are due
/// and the CRC must fit, together 40 bits (32 for an exception answer), which noise has by chance once in 10^12 places (4 * 10^9). That is as safe as
/// taking only what begins after a silence, which cannot be seen through adapters and serial servers, for these deliver in pieces.</para>
/// <para>Whole valid frames of others are passed over as wholes, so that what they carry is never taken for a frame. The echo of
/// the own request, which some adapters deliver, is dropped where its eight bytes come first; an answer that begins with the same eight
/// bytes, its own address and quantity in its values, is so lost and asked again, which is the safe side.</para>
/// </remarks>
internal sealed class RtuInput
{
    /// <summary>Bytes without the answer, after which a request is given up at once: far more than noise, echo and late answers are.</summary>
    internal const int MostBytes = 4096;

    private const byte ExceptionFlag = 0x80;

    private readonly byte[] _received = new byte[4 * RtuFrame.MaximumLength];
    private readonly byte[] _sent = new byte[RtuFrame.RequestLength];
    private ReadRequest _request;
    private int _count;
    private bool _hasOnlyFrames;
    private string? _fault;

    /// <summary>Bytes since the request that belong to no frame of this line's units.</summary>
    public int Garbage { get; private set; }

    /// <summary>Bytes since the request.</summary>
    public int Received { get; private set; }

    /// <summary>The request as it is sent.</summary>
    public ReadOnlyMemory<byte> Sent => _sent;

    /// <summary>Where the next bytes go.</summary>
    public Memory<byte> Space => _received.AsMemory(_count);

    /// <summary>Exception code of the answer that was found, or none.</summary>
    public ModbusExceptionCode Exception { get; private set; }

    /// <summary>Forgets everything: a request is about to be sent.</summary>
    public void Begin(in ReadRequest request)
    {
        RtuFrame.Encode(request, _sent);
        _request = request;
        _count = 0;
        _hasOnlyFrames = true;
        _fault = null;
        Garbage = 0;
        Received = 0;
    }

    /// <summary>So many bytes were put into <see cref="Space"/>.</summary>
    public void Add(int bytes)
    {
        _count += bytes;
        Received += bytes;
    }

    /// <summary>Looks for the answer.</summary>
    /// <param name="unanswered">Takes late answers out of it.</param>
    /// <param name="lateAnswers">Counts them.</param>
    /// <param name="answer">The whole frame of a valid answer; valid until more is received.</param>
    /// <returns>Whether it is there.</returns>
    public bool TryFind(UnansweredRequests unanswered, ref long lateAnswers, out ReadOnlySpan<byte> answer)
    {
        while (_hasOnlyFrames && _count > 0)
        {
            var bytes = _received.AsSpan(0, _count);
            if (IsEcho(bytes) is { } isWhole)
            {
                if (!isWhole)
                    break;
                Drop(_sent.Length);
                continue;
            }

            var length = RtuFrame.LengthOf(bytes);
            if (length == 0 || length > _count)
                break;
            if (length < 0 || !RtuFrame.HasValidCrc(bytes[..length]))
            {
                _hasOnlyFrames = false;
                break;
            }

            if (IsAnswer(bytes[..length]))
            {
                answer = bytes[..length];
                return true;
            }

            if (unanswered.Takes(bytes[..length]))
                lateAnswers++;
            else
                _fault ??= string.Create(CultureInfo.InvariantCulture, $"an answer came from unit {bytes[0]} for function {bytes[1] & ~ExceptionFlag:X2} with {length} bytes, due are {RtuFrame.AnswerLength(_request)} from unit {_request.Unit} for function {_sent[1]:X2}");
            Drop(length);
        }

        return TryFindInNoise(out answer);
    }

    /// <summary>What is wrong with what came so far, or null where nothing came but echoes and late answers.</summary>
    public string? Fault()
    {
        if (Garbage + _count == 0 || _fault is not null)
            return _fault;
        return Garbage == 0 && RtuFrame.LengthOf(_received.AsSpan(0, _count)) is var length && length > _count
            ? string.Create(CultureInfo.InvariantCulture, $"the answer ends after {_count} of {length} bytes")
            : string.Create(CultureInfo.InvariantCulture, $"{Garbage + _count} bytes came that are no answer");
    }

    private bool TryFindInNoise(out ReadOnlySpan<byte> answer)
    {
        var bytes = _received.AsSpan(0, _count);
        var mayFollow = _count;
        for (var at = 0; at < _count; at++)
        {
            var length = DueLength(bytes[at..]);
            if (length < 0)
                continue;
            if (length == 0 || at + length > _count)
            {
                mayFollow = Math.Min(mayFollow, at);
                continue;
            }

            var frame = bytes.Slice(at, length);
            if (IsAnswer(frame))
            {
                answer = frame;
                return true;
            }

            // Told once: noise may hold many.
            _fault ??= RtuFrame.FindFault(_request, frame, out _);
        }

        answer = default;
        if (!_hasOnlyFrames)
        {
            Garbage += mayFollow;
            Drop(mayFollow);
        }

        return false;
    }

    /// <summary>Length of the answer that is due, if it begins here; 0 where it cannot be told yet, -1 where it does not begin here.</summary>
    private int DueLength(ReadOnlySpan<byte> bytes)
    {
        if (bytes[0] != _request.Unit)
            return -1;
        if (bytes.Length < 2)
            return 0;
        if (bytes[1] == (_sent[1] | ExceptionFlag))
            return RtuFrame.ExceptionLength;
        if (bytes[1] != _sent[1])
            return -1;
        if (bytes.Length < 3)
            return 0;
        return bytes[2] == _request.AnswerBytes ? RtuFrame.AnswerLength(_request) : -1;
    }

    private bool IsAnswer(ReadOnlySpan<byte> frame)
    {
        // The CRC first: a fault's text is not wanted here, and noise may cost one for each byte.
        if (!RtuFrame.HasValidCrc(frame) || RtuFrame.FindFault(_request, frame, out var exception) is not null)
            return false;
        Exception = exception;
        return true;
    }

    /// <summary>Whether the own request stands here: yes, no (null), or the first part of it.</summary>
    private bool? IsEcho(ReadOnlySpan<byte> bytes)
    {
        var length = Math.Min(bytes.Length, _sent.Length);
        return length > 0 && bytes[..length].SequenceEqual(_sent.AsSpan(0, length)) ? length == _sent.Length : null;
    }

    private void Drop(int bytes)
    {
        _count -= bytes;
        if (_count > 0)
            _received.AsSpan(bytes, _count).CopyTo(_received);
    }
}
