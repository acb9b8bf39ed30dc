namespace SawEdge.Modbus;

/// <summary>
/// Requests on an RTU line that were given up and whose answers may still come. RTU frames name no transaction and an answer
/// no address, so that a late answer looks like one to any other request of the same unit, function and quantity. This class
/// knows which requests could be answered by mistake, and finds one whose answer cannot be mistaken.
/// </summary>
/// <remarks>
/// A unit answers in the order in which it was asked. Once it has answered a request that differs in its function or in the
/// length of its answer from all that are outstanding, no answer to those can come any more. Pure but for the times it is given.
/// </remarks>
internal sealed class UnansweredRequests
{
    /// <summary>How many are remembered.</summary>
    internal const int Capacity = 8;

    // How many entries the request that cannot be mistaken may be longer or shorter, in steps that change its answer's length.
    private const int MostSteps = Capacity + 1;
    private const int BitsAByte = 8;

    private readonly ReadRequest[] _requests = new ReadRequest[Capacity];
    private readonly long[] _since = new long[Capacity];
    private int _count;

    /// <summary>How many there are.</summary>
    public int Count => _count;

    /// <summary>Remembers one; forgets the oldest where there is no room.</summary>
    public void Add(in ReadRequest request, long now)
    {
        if (_count == Capacity)
            RemoveAt(0);
        _requests[_count] = request;
        _since[_count++] = now;
    }

    /// <summary>Forgets those from before a moment: no unit answers so late.</summary>
    public void ForgetBefore(long moment)
    {
        while (_count > 0 && _since[0] < moment)
            RemoveAt(0);
    }

    /// <summary>Whether an answer to one of these would pass for an answer with values to this request.</summary>
    public bool CanBeMistakenFor(in ReadRequest request)
    {
        for (var i = 0; i < _count; i++)
        {
            if (_requests[i].Unit == request.Unit && _requests[i].Table == request.Table && _requests[i].AnswerBytes == request.AnswerBytes)
                return true;
        }

        return false;
    }

    /// <summary>Whether something is outstanding from this unit and function: an exception answer may belong to either.</summary>
    public bool HasAny(byte unit, ModbusTable table)
    {
        for (var i = 0; i < _count; i++)
        {
            if (_requests[i].Unit == unit && _requests[i].Table == table)
                return true;
        }

        return false;
    }

    /// <summary>Whether a whole valid frame is the answer to one of these, which is then forgotten.</summary>
    public bool Takes(ReadOnlySpan<byte> frame)
    {
        for (var i = 0; i < _count; i++)
        {
            if (frame[0] != _requests[i].Unit || RtuFrame.FindFault(_requests[i], frame, out _) is not null)
                continue;
            RemoveAt(i);
            return true;
        }

        return false;
    }

    /// <summary>Forgets all of a unit: it has answered something that was asked later.</summary>
    public void Answered(byte unit)
    {
        for (var i = _count - 1; i >= 0; i--)
        {
            if (_requests[i].Unit == unit)
                RemoveAt(i);
        }
    }

    /// <summary>
    /// A request of the same unit and table whose answer cannot be mistaken: fewer of the same entries where that changes the
    /// answer's length, else more. Where the unit has none there, it refuses, and the refusal serves as well.
    /// </summary>
    public ReadRequest Distinct(in ReadRequest request)
    {
        var step = request.IsBits ? BitsAByte : 1;
        for (var steps = 1; steps <= MostSteps; steps++)
        {
            var fewer = request.Quantity - (steps * step);
            if (fewer > 0 && Of(request, fewer) is var shorter && !CanBeMistakenFor(shorter))
                return shorter;
        }

        for (var steps = 1; steps <= MostSteps; steps++)
        {
            var more = request.Quantity + (steps * step);
            if (more <= ReadRequest.Limit(request.Table) && Of(request, more) is var longer && !CanBeMistakenFor(longer))
                return longer;
        }

        throw new InvalidOperationException("Among more lengths than requests are remembered, one is free.");
    }

    private static ReadRequest Of(in ReadRequest request, int quantity) =>
        new(request.Unit, request.Table, (ushort)Math.Min(request.Address, ReadRequest.AddressSpace - quantity), quantity);

    private void RemoveAt(int at)
    {
        _count--;
        Array.Copy(_requests, at + 1, _requests, at, _count - at);
        Array.Copy(_since, at + 1, _since, at, _count - at);
    }
}
