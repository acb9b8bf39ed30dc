using System.Buffers.Binary;

namespace SawEdge.Simulator.Modbus;

/// <summary>
/// Answers one request against an image, checking in the order of the specification's state diagrams (MODBUS Application
/// Protocol V1.1b3, figures 11 to 14): function, then quantity, then address. Reads only: functions 1 to 4.
/// </summary>
public static class ModbusAnswer
{
    /// <summary>The longest protocol data unit, bytes (V1.1b3, 4.1).</summary>
    public const int MaximumPdu = 253;

    /// <summary>Exception 01, illegal function.</summary>
    public const byte IllegalFunction = 1;

    /// <summary>Exception 02, illegal data address.</summary>
    public const byte IllegalDataAddress = 2;

    /// <summary>Exception 03, illegal data value.</summary>
    public const byte IllegalDataValue = 3;

    /// <summary>Exception 0B, gateway target device failed to respond.</summary>
    public const byte TargetFailedToRespond = 0x0B;

    private const int MaximumBits = 2000;
    private const int MaximumRegisters = 125;

    /// <summary>Writes the answer to a request.</summary>
    /// <param name="image">The unit's registers.</param>
    /// <param name="request">The request's protocol data unit, at least one byte.</param>
    /// <param name="answer">Room for <see cref="MaximumPdu"/> bytes.</param>
    /// <returns>Bytes written.</returns>
    public static int Write(RegisterImage image, ReadOnlySpan<byte> request, Span<byte> answer)
    {
        var function = request[0];
        if (function is < 1 or > 4)
            return WriteException(function, IllegalFunction, answer);
        if (request.Length != 5)
            return WriteException(function, IllegalDataValue, answer);

        var table = (RegisterTable)(function - 1);
        var address = BinaryPrimitives.ReadUInt16BigEndian(request[1..]);
        var quantity = BinaryPrimitives.ReadUInt16BigEndian(request[3..]);
        var bits = function <= 2;
        if (quantity < 1 || quantity > (bits ? MaximumBits : MaximumRegisters))
            return WriteException(function, IllegalDataValue, answer);
        if (address + quantity > image.SizeOf(table))
            return WriteException(function, IllegalDataAddress, answer);

        var count = bits ? (quantity + 7) / 8 : quantity * 2;
        answer[0] = function;
        answer[1] = (byte)count;
        if (bits)
            image.CopyBits(table, address, quantity, answer.Slice(2, count));
        else
            image.CopyRegisters(table, address, quantity, answer.Slice(2, count));
        return 2 + count;
    }

    /// <summary>Writes an exception answer: the function with its highest bit set, and the code.</summary>
    /// <returns>Bytes written.</returns>
    public static int WriteException(byte function, byte code, Span<byte> answer)
    {
        answer[0] = (byte)(function | 0x80);
        answer[1] = code;
        return 2;
    }
}
