using System.Buffers.Binary;
using System.Globalization;

namespace SawEdge.Modbus;

/// <summary>
/// The frame of Modbus on TCP: the MBAP header and a protocol data unit (Modbus Messaging on TCP/IP V1.0b, clause 3.1.3).
/// Pure functions.
/// </summary>
public static class MbapFrame
{
    /// <summary>Length of the header with the unit identifier, bytes: transaction (2), protocol (2), length (2), unit (1).</summary>
    public const int HeaderLength = 7;

    /// <summary>Longest frame, bytes (clause 3.1.2): header and the longest protocol data unit.</summary>
    public const int MaximumLength = HeaderLength + ModbusPdu.MaximumLength;

    /// <summary>Length of every frame that this library sends, bytes.</summary>
    public const int RequestLength = HeaderLength + ModbusPdu.RequestLength;

    // What stands before the bytes that the length field counts: transaction, protocol and the length field itself.
    private const int Uncounted = 6;
    private const int LeastCounted = 2;
    private const int MostCounted = 1 + ModbusPdu.MaximumLength;

    /// <summary>Writes the frame of a read request, <see cref="RequestLength"/> bytes.</summary>
    public static void Encode(ushort transaction, in ReadRequest request, Span<byte> into)
    {
        BinaryPrimitives.WriteUInt16BigEndian(into, transaction);
        BinaryPrimitives.WriteUInt16BigEndian(into[2..], 0);
        BinaryPrimitives.WriteUInt16BigEndian(into[4..], 1 + ModbusPdu.RequestLength);
        into[6] = request.Unit;
        ModbusPdu.Encode(request, into[HeaderLength..]);
    }

    /// <summary>The transaction identifier, as soon as its two bytes are there.</summary>
    public static bool TryReadTransaction(ReadOnlySpan<byte> received, out ushort transaction) =>
        BinaryPrimitives.TryReadUInt16BigEndian(received, out transaction);

    /// <summary>Looks at the header at the beginning of what was received, which may be only a part of a frame.</summary>
    /// <param name="received">Bytes from the beginning of a frame; more may follow.</param>
    /// <param name="length">Length of the whole frame, bytes; 0 while it cannot be told yet.</param>
    /// <returns>What is wrong with the header, or null where nothing is, as far as it has come.</returns>
    public static string? FindFault(ReadOnlySpan<byte> received, out int length)
    {
        length = 0;
        if (received.Length < 4)
            return null;
        var protocol = BinaryPrimitives.ReadUInt16BigEndian(received[2..]);
        if (protocol != 0)
            return string.Create(CultureInfo.InvariantCulture, $"the protocol identifier is {protocol}, Modbus has 0");
        if (received.Length < Uncounted)
            return null;
        var counted = BinaryPrimitives.ReadUInt16BigEndian(received[4..]);
        if (counted is < LeastCounted or > MostCounted)
            return string.Create(CultureInfo.InvariantCulture, $"the length field is {counted}, allowed are {LeastCounted} to {MostCounted}");
        length = Uncounted + counted;
        return null;
    }

    /// <summary>The unit identifier of a whole frame.</summary>
    public static byte Unit(ReadOnlySpan<byte> frame) => frame[6];

    /// <summary>The protocol data unit of a whole frame.</summary>
    public static ReadOnlySpan<byte> Pdu(ReadOnlySpan<byte> frame) => frame[HeaderLength..];
}
