using System.Buffers.Binary;
using System.Globalization;

namespace SawEdge.Modbus;

/// <summary>
/// The frame of Modbus on a serial line in RTU mode: unit, protocol data unit, CRC (Modbus over Serial Line V1.02, clauses
/// 2.5.1 and 6.2.2). RTU over TCP carries the same bytes. Pure functions.
/// </summary>
public static class RtuFrame
{
    /// <summary>Longest frame, bytes (clause 2.5.1.1).</summary>
    public const int MaximumLength = 256;

    /// <summary>Length of every frame that this library sends, bytes.</summary>
    public const int RequestLength = Overhead + ModbusPdu.RequestLength;

    /// <summary>Length of an exception answer, bytes.</summary>
    public const int ExceptionLength = Overhead + ModbusPdu.ExceptionLength;

    /// <summary>Lowest address of a unit; 0 is the broadcast, which nobody answers (clause 2.2).</summary>
    public const int LowestUnit = 1;

    /// <summary>Highest address of a unit; those above are reserved (clause 2.2).</summary>
    public const int HighestUnit = 247;

    // The unit before the protocol data unit, two bytes of CRC after it.
    private const int Overhead = 3;
    private const int CrcLength = 2;
    private const byte ExceptionFlag = 0x80;

    private static readonly ushort[] Table = [.. Enumerable.Range(0, 256).Select(CrcOfByte)];

    /// <summary>
    /// CRC-16 as the standard has it (clause 6.2.2): begins with FFFF, polynomial A001 reflected. Its low byte is sent first.
    /// </summary>
    public static ushort Crc(ReadOnlySpan<byte> bytes)
    {
        ushort crc = 0xFFFF;
        foreach (var b in bytes)
            crc = (ushort)((crc >> 8) ^ Table[(crc ^ b) & 0xFF]);
        return crc;
    }

    /// <summary>Length of the whole frame that answers a request with values, bytes.</summary>
    public static int AnswerLength(in ReadRequest request) => Overhead + ModbusPdu.AnswerLength(request);

    /// <summary>Fails where a unit cannot answer on a serial line.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The unit is the broadcast or one of the reserved addresses.</exception>
    public static void CheckUnit(byte unit)
    {
        if (unit is < LowestUnit or > HighestUnit)
            throw new ArgumentOutOfRangeException(nameof(unit), unit, Say($"On a serial line units have the addresses {LowestUnit} to {HighestUnit}; 0 is the broadcast, which nobody answers, and those above {HighestUnit} are reserved."));
    }

    /// <summary>Writes the frame of a read request, <see cref="RequestLength"/> bytes.</summary>
    /// <exception cref="ArgumentException">The request was not made by its constructor, or its unit cannot answer on a serial line.</exception>
    public static void Encode(in ReadRequest request, Span<byte> into)
    {
        CheckUnit(request.Unit);
        ModbusPdu.Encode(request, into[1..]);
        into[0] = request.Unit;
        BinaryPrimitives.WriteUInt16LittleEndian(into[(RequestLength - CrcLength)..], Crc(into[..(RequestLength - CrcLength)]));
    }

    /// <summary>
    /// Length of the answer to a read that begins with these bytes, whoever asked: RTU frames do not state their length, function
    /// and byte count tell it.
    /// </summary>
    /// <returns>Bytes of the whole frame; 0 while it cannot be told yet; -1 where no answer to a read begins so.</returns>
    public static int LengthOf(ReadOnlySpan<byte> received)
    {
        if (received.Length > 0 && received[0] is < LowestUnit or > HighestUnit)
            return -1;
        if (received.Length < 2)
            return 0;
        if (received[1] is > ExceptionFlag and <= (ExceptionFlag | (byte)ModbusTable.InputRegisters))
            return ExceptionLength;
        if (received[1] is < (byte)ModbusTable.Coils or > (byte)ModbusTable.InputRegisters)
            return -1;
        if (received.Length < 3)
            return 0;
        return received[2] is >= 1 and <= ModbusPdu.MaximumLength - 2 ? Overhead + 2 + received[2] : -1;
    }

    /// <summary>Whether the last two bytes of a frame are the CRC of those before.</summary>
    public static bool HasValidCrc(ReadOnlySpan<byte> frame) =>
        frame.Length > CrcLength && BinaryPrimitives.ReadUInt16LittleEndian(frame[^CrcLength..]) == Crc(frame[..^CrcLength]);

    /// <summary>Looks for anything that is wrong with an answer.</summary>
    /// <param name="request">What was asked.</param>
    /// <param name="frame">The whole frame that came.</param>
    /// <param name="exception">The device's exception code, where the answer is an exception answer; else <see cref="ModbusExceptionCode.None"/>.</param>
    /// <returns>What is wrong, or null where the frame is a valid answer to this request: the values, or an exception.</returns>
    public static string? FindFault(in ReadRequest request, ReadOnlySpan<byte> frame, out ModbusExceptionCode exception)
    {
        exception = ModbusExceptionCode.None;
        if (frame.Length is < ExceptionLength or > MaximumLength)
            return Say($"a frame of {frame.Length} bytes, answers have {ExceptionLength} to {MaximumLength}");
        if (!HasValidCrc(frame))
        {
            // The bytes as they are sent, low byte first, so that they can be found in a trace of the line.
            var due = Crc(frame[..^CrcLength]);
            return Say($"the CRC is {frame[^2]:X2} {frame[^1]:X2}, due are {due & 0xFF:X2} {due >> 8:X2}");
        }

        return Unit(frame) == request.Unit ? ModbusPdu.FindFault(request, Pdu(frame), out exception) : Say($"the answer is from unit {Unit(frame)}");
    }

    /// <summary>The unit of a frame.</summary>
    public static byte Unit(ReadOnlySpan<byte> frame) => frame[0];

    /// <summary>The protocol data unit of a whole frame.</summary>
    public static ReadOnlySpan<byte> Pdu(ReadOnlySpan<byte> frame) => frame[1..^CrcLength];

    private static ushort CrcOfByte(int value)
    {
        for (var bit = 0; bit < 8; bit++)
            value = (value & 1) != 0 ? (value >> 1) ^ 0xA001 : value >> 1;
        return (ushort)value;
    }

    private static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
