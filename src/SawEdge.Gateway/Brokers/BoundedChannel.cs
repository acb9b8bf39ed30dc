using System.Buffers;
using System.Buffers.Binary;
using System.Net;
using System.Security.Cryptography.X509Certificates;
using MQTTnet.Channel;
using MQTTnet.Exceptions;

namespace SawEdge.Gateway.Brokers;

/// <summary>
/// Stands between the network and the library, which takes memory of any size that a packet states and puts any number of
/// messages into a queue. Here a payload beyond the limit is read past, and the library gets its first bytes, one more than
/// the limit, so that the message shows to be too long; and nothing more is read while many messages are not done with.
/// What is read ahead makes few system calls of many.
/// </summary>
internal sealed class BoundedChannel : IMqttChannel
{
    /// <summary>The largest packet that a broker of version 5 is told to send: what is longer it leaves out by itself, and without a word.</summary>
    public const uint LargestPacketBytes = 17 * 1024 * 1024;

    /// <summary>Messages that a broker of version 5 may send before the first of them is acknowledged.</summary>
    public const ushort MostUnacknowledged = 500;

    private const int LargestOther = 256 * 1024;
    private const int LargestProperties = 64 * 1024;
    private const int MemoryOfWaiting = 32 * 1024 * 1024;
    private const byte Publish = 3;

    private readonly IMqttChannel _network;
    private readonly int _largestPayload;
    private readonly bool _version5;
    private readonly SemaphoreSlim _room;
    private byte[] _ahead = new byte[32 * 1024];
    private int _start;
    private int _end;
    private byte[] _lead = new byte[8];
    private int _leadAt;
    private int _leadEnd;
    private int _skipFirst;
    private int _pass;
    private int _skipLast;
    private Task<int> _latest = Task.FromResult(0);

    /// <summary>Puts it before a network.</summary>
    /// <param name="network">The library's own channel.</param>
    /// <param name="largestPayload">The limit of a payload, bytes.</param>
    /// <param name="version5">Whether version 5 of the protocol is spoken.</param>
    public BoundedChannel(IMqttChannel network, int largestPayload, bool version5)
    {
        _network = network;
        _largestPayload = largestPayload;
        _version5 = version5;
        _room = new SemaphoreSlim(Math.Clamp(MemoryOfWaiting / largestPayload, 4, 4096));
    }

    /// <inheritdoc/>
    public X509Certificate2? ClientCertificate => _network.ClientCertificate;

    /// <inheritdoc/>
    public EndPoint? RemoteEndPoint => _network.RemoteEndPoint;

    /// <inheritdoc/>
    public EndPoint? LocalEndPoint => _network.LocalEndPoint;

    /// <inheritdoc/>
    public bool IsSecureConnection => _network.IsSecureConnection;

    /// <inheritdoc/>
    public Task ConnectAsync(CancellationToken cancellationToken) => _network.ConnectAsync(cancellationToken);

    /// <inheritdoc/>
    public Task DisconnectAsync(CancellationToken cancellationToken) => _network.DisconnectAsync(cancellationToken);

    /// <inheritdoc/>
    public Task WriteAsync(ReadOnlySequence<byte> buffer, bool isEndOfPacket, CancellationToken cancellationToken) =>
        _network.WriteAsync(buffer, isEndOfPacket, cancellationToken);

    /// <summary>A message that was handed to the library is done with.</summary>
    public void Handled() => _room.Release();

    /// <inheritdoc/>
    public Task<int> ReadAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken)
    {
        var taken = Take(buffer.AsSpan(offset, count));
        if (taken == 0 && TryBeginAtOnce())
            taken = Take(buffer.AsSpan(offset, count));
        if (taken == 0)
            return ReadFromNetworkAsync(buffer, offset, count, cancellationToken);

        // The same few lengths come again and again.
        return _latest.Result == taken ? _latest : _latest = Task.FromResult(taken);
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        // The semaphore has no handle of the system, and whoever still handles messages may release it.
        _network.Dispose();
    }

    private async Task<int> ReadFromNetworkAsync(byte[] buffer, int offset, int count, CancellationToken cancellation)
    {
        while (true)
        {
            var taken = Take(buffer.AsSpan(offset, count));
            if (taken > 0)
                return taken;
            var isAtBoundary = _skipFirst + _pass + _skipLast == 0;
            if (!(isAtBoundary ? await BeginAsync(cancellation) : await ReadAheadAsync(cancellation)))
                return 0;
        }
    }

    // What can be handed on without the network; also reads past what is to be left out.
    private int Take(Span<byte> target)
    {
        if (_leadAt < _leadEnd)
        {
            var lead = Math.Min(target.Length, _leadEnd - _leadAt);
            _lead.AsSpan(_leadAt, lead).CopyTo(target);
            _leadAt += lead;
            return lead;
        }

        Skip(ref _skipFirst);
        if (_skipFirst > 0)
            return 0;
        if (_pass == 0)
        {
            Skip(ref _skipLast);
            return 0;
        }

        var taken = Math.Min(Math.Min(target.Length, _pass), _end - _start);
        _ahead.AsSpan(_start, taken).CopyTo(target);
        _start += taken;
        _pass -= taken;
        return taken;
    }

    private void Skip(ref int bytes)
    {
        var skipped = Math.Min(bytes, _end - _start);
        _start += skipped;
        bytes -= skipped;
    }

    // The usual packet, which is there already.
    private bool TryBeginAtOnce()
    {
        if (_skipFirst + _pass + _skipLast > 0 || !TryHeader(out var length, out var remaining) || remaining > _largestPayload)
            return false;
        if (_ahead[_start] >> 4 == Publish && !_room.Wait(0))
            return false;
        Pass(length, remaining);
        return true;
    }

    private async Task<bool> BeginAsync(CancellationToken cancellation)
    {
        int length, remaining;
        while (!TryHeader(out length, out remaining))
        {
            if (!await ReadAheadAsync(cancellation))
                return false;
        }

        if (_ahead[_start] >> 4 != Publish)
        {
            if (remaining > LargestOther)
                throw new MqttProtocolViolationException($"the broker sent a packet of {remaining} bytes that is no message");
            Pass(length, remaining);
            return true;
        }

        await _room.WaitAsync(cancellation);
        if (remaining <= _largestPayload)
        {
            Pass(length, remaining);
            return true;
        }

        return await BeginLargeAsync(length, remaining, cancellation);
    }

    // MQTT 3.1.1 and 5.0, 2.2.3 and 2.1.4: one byte of type and flags, then the length of the rest in one to four bytes of seven bits.
    private bool TryHeader(out int length, out int remaining)
    {
        remaining = 0;
        for (length = 1; length <= 4; length++)
        {
            if (_start + length >= _end)
                return false;
            var part = _ahead[_start + length];
            remaining |= (part & 0x7F) << (7 * (length - 1));
            if ((part & 0x80) != 0)
                continue;
            length++;
            return true;
        }

        throw new MqttProtocolViolationException("the broker sent a packet whose length is no number");
    }

    private void Pass(int header, int remaining) => _pass = header + remaining;

    // A message that may be too long: 3.3.2, topic, packet identifier (not with quality of service 0), in version 5 properties, payload.
    private async Task<bool> BeginLargeAsync(int header, int remaining, CancellationToken cancellation)
    {
        if (!await HasAheadAsync(header + 2, cancellation))
            return false;
        var before = header + 2 + BinaryPrimitives.ReadUInt16BigEndian(_ahead.AsSpan(_start + header)) + ((_ahead[_start] & 0b110) != 0 ? 2 : 0);
        var properties = 0;
        var propertyHeader = 0;
        if (_version5)
        {
            do
            {
                if (propertyHeader == 4)
                    throw new MqttProtocolViolationException("the broker sent a message with properties whose length is no number");
                if (!await HasAheadAsync(before + propertyHeader + 1, cancellation))
                    return false;
                properties |= (_ahead[_start + before + propertyHeader] & 0x7F) << (7 * propertyHeader);
            }
            while ((_ahead[_start + before + propertyHeader++] & 0x80) != 0);
        }
        else if (!await HasAheadAsync(before, cancellation))
        {
            return false;
        }

        var payload = header + remaining - before - propertyHeader - properties;
        if (payload < 0)
            throw new MqttProtocolViolationException("the broker sent a message that is shorter than its topic and properties");
        if (payload <= _largestPayload && properties <= LargestProperties)
        {
            Pass(header, remaining);
            return true;
        }

        Cut(header, before, propertyHeader, properties, payload);
        return true;
    }

    // The same message without its properties, and with the first bytes of its payload.
    private void Cut(int header, int before, int propertyHeader, int properties, int payload)
    {
        var kept = Math.Min(payload, _largestPayload + 1);
        var variable = before - header;
        var remaining = variable + (_version5 ? 1 : 0) + kept;
        if (_lead.Length < variable + 6)
            _lead = new byte[variable + 6];
        _lead[0] = _ahead[_start];
        _leadEnd = 1;
        for (var rest = remaining; ; rest >>= 7)
        {
            _lead[_leadEnd++] = (byte)((rest & 0x7F) | (rest > 0x7F ? 0x80 : 0));
            if (rest <= 0x7F)
                break;
        }

        _ahead.AsSpan(_start + header, variable).CopyTo(_lead.AsSpan(_leadEnd));
        _leadEnd += variable;
        if (_version5)
            _lead[_leadEnd++] = 0;
        _leadAt = 0;
        _start += before + propertyHeader;
        _skipFirst = properties;
        _pass = kept;
        _skipLast = payload - kept;
    }

    private async Task<bool> HasAheadAsync(int bytes, CancellationToken cancellation)
    {
        if (_ahead.Length < bytes)
            Array.Resize(ref _ahead, bytes + 1024);
        while (_end - _start < bytes)
        {
            if (!await ReadAheadAsync(cancellation))
                return false;
        }

        return true;
    }

    private async Task<bool> ReadAheadAsync(CancellationToken cancellation)
    {
        if (_start == _end)
        {
            _start = _end = 0;
        }
        else if (_end == _ahead.Length)
        {
            _ahead.AsSpan(_start, _end - _start).CopyTo(_ahead);
            (_start, _end) = (0, _end - _start);
        }

        var read = await _network.ReadAsync(_ahead, _end, _ahead.Length - _end, cancellation);
        _end += read;
        return read > 0;
    }
}
