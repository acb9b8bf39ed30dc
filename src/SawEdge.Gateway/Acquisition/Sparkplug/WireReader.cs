namespace SawEdge.Gateway.Acquisition.Sparkplug;

/// <summary>How a field of a Protocol Buffers message is written.</summary>
internal enum WireType
{
    Varint = 0,
    Fixed64 = 1,
    Bytes = 2,
    Fixed32 = 5,
}

/// <summary>
/// Reads the fields of one Protocol Buffers message in place: nothing is copied or allocated, and nothing outside its bytes is
/// touched, whatever they claim. After a method returned false the message is of no use.
/// </summary>
/// <remarks>
/// A reader of our own, because the library's makes an object for each metric that a payload claims to hold: 16 MB of empty metrics
/// would become gigabytes. Encoding: protobuf.dev, Encoding ("from memory").
/// </remarks>
/// <param name="data">The message.</param>
/// <param name="start">Where it begins in <paramref name="data"/>.</param>
/// <param name="length">Bytes that belong to it.</param>
internal ref struct WireReader(ReadOnlySpan<byte> data, int start, int length)
{
    private readonly ReadOnlySpan<byte> _data = data;
    private readonly int _end = start + length;
    private int _position = start;

    /// <summary>Whether all of it was read.</summary>
    public readonly bool IsAtEnd => _position >= _end;

    /// <summary>Reads the number of the next field and how it is written.</summary>
    /// <returns>Whether there is such a field: groups, which the standard has given up, are none.</returns>
    public bool TryReadTag(out int field, out WireType type)
    {
        var good = TryReadVarint(out var tag) && tag <= uint.MaxValue;
        field = (int)(tag >> 3);
        type = (WireType)(tag & 7);
        return good && field != 0 && type is WireType.Varint or WireType.Fixed64 or WireType.Bytes or WireType.Fixed32;
    }

    /// <summary>Reads a whole number of variable length.</summary>
    public bool TryReadVarint(out ulong value)
    {
        value = 0;
        for (var shift = 0; shift < 70 && _position < _end; shift += 7)
        {
            var part = _data[_position++];
            value |= (ulong)(part & 0x7F) << shift;
            if (part < 0x80)
                return true;
        }

        return false;
    }

    /// <summary>Reads four bytes, the lowest first.</summary>
    public bool TryReadFixed32(out uint value)
    {
        value = 0;
        if (_end - _position < 4)
            return false;
        value = System.Buffers.Binary.BinaryPrimitives.ReadUInt32LittleEndian(_data[_position..]);
        _position += 4;
        return true;
    }

    /// <summary>Reads eight bytes, the lowest first.</summary>
    public bool TryReadFixed64(out ulong value)
    {
        value = 0;
        if (_end - _position < 8)
            return false;
        value = System.Buffers.Binary.BinaryPrimitives.ReadUInt64LittleEndian(_data[_position..]);
        _position += 8;
        return true;
    }

    /// <summary>Finds a text, bytes or a message within, and steps over it.</summary>
    /// <param name="start">Where it begins in the data.</param>
    /// <param name="length">Its bytes.</param>
    public bool TryReadBytes(out int start, out int length)
    {
        start = length = 0;
        if (!TryReadVarint(out var claimed) || claimed > (ulong)(_end - _position))
            return false;
        start = _position;
        length = (int)claimed;
        _position += length;
        return true;
    }

    /// <summary>Steps over a field.</summary>
    public bool TrySkip(WireType type) => type switch
    {
        WireType.Varint => TryReadVarint(out _),
        WireType.Fixed64 => TryReadFixed64(out _),
        WireType.Fixed32 => TryReadFixed32(out _),
        _ => TryReadBytes(out _, out _),
    };
}
