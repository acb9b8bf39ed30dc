using System.Buffers.Binary;
using System.Globalization;

namespace SawEdge.Modbus;

/// <summary>
/// Requests and answers without their transport: the protocol data unit, which is the same on TCP and on a serial line
/// (Modbus Application Protocol V1.1b3, clause 4.1). Pure functions.
/// </summary>
public static class ModbusPdu
{
    /// <summary>Longest protocol data unit, bytes (clause 4.1: 256 of a serial frame less address and CRC).</summary>
    public const int MaximumLength = 253;

    /// <summary>Length of every read request, bytes: function code, address, quantity (clauses 6.1 to 6.4).</summary>
    public const int RequestLength = 5;

    /// <summary>Length of an exception answer, bytes: function code with its highest bit set, exception code (clause 7).</summary>
    public const int ExceptionLength = 2;

    private const byte ExceptionFlag = 0x80;

    /// <summary>Length of the answer that holds the values, bytes: function code, byte count, values.</summary>
    public static int AnswerLength(in ReadRequest request) => 2 + request.AnswerBytes;

    /// <summary>Writes a read request (clauses 6.1 to 6.4), <see cref="RequestLength"/> bytes.</summary>
    /// <exception cref="ArgumentException">The request was not made by its constructor.</exception>
    public static void Encode(in ReadRequest request, Span<byte> into)
    {
        into[0] = FunctionCode(request);
        BinaryPrimitives.WriteUInt16BigEndian(into[1..], request.Address);
        BinaryPrimitives.WriteUInt16BigEndian(into[3..], request.Quantity);
    }

    /// <summary>Whether an answer of this length can belong to the request; tells a broken frame before all of it has come.</summary>
    public static bool CanHaveLength(in ReadRequest request, int length) => length == ExceptionLength || length == AnswerLength(request);

    /// <summary>Looks for anything that is wrong with an answer.</summary>
    /// <param name="request">What was asked.</param>
    /// <param name="answer">The whole protocol data unit that came.</param>
    /// <param name="exception">The device's exception code, where the answer is an exception answer; else <see cref="ModbusExceptionCode.None"/>.</param>
    /// <returns>What is wrong, or null where the answer is a valid one to this request: the values, or an exception.</returns>
    public static string? FindFault(in ReadRequest request, ReadOnlySpan<byte> answer, out ModbusExceptionCode exception)
    {
        exception = ModbusExceptionCode.None;
        var function = FunctionCode(request);
        if (answer.Length < ExceptionLength)
            return Say($"the answer ends after {answer.Length} of at least {ExceptionLength} bytes");

        if (answer[0] == (function | ExceptionFlag))
        {
            if (answer.Length != ExceptionLength)
                return Say($"an exception answer has {ExceptionLength} bytes, this one has {answer.Length}");
            if (answer[1] == 0)
                return "an exception answer with code 00";
            exception = (ModbusExceptionCode)answer[1];
            return null;
        }

        if (answer[0] != function)
            return Say($"the answer is for function {answer[0]:X2}, asked was {function:X2}");
        if (answer[1] != request.AnswerBytes)
            return Say($"the answer's byte count is {answer[1]}, due are {request.AnswerBytes}");
        if (answer.Length != AnswerLength(request))
            return Say($"the answer has {answer.Length} bytes, due are {AnswerLength(request)}");
        return null;
    }

    /// <summary>Takes the registers out of an answer in which no fault was found: high byte first (clause 4.2).</summary>
    public static void CopyRegisters(ReadOnlySpan<byte> answer, Span<ushort> into)
    {
        var values = answer.Slice(2, into.Length * 2);
        for (var i = 0; i < into.Length; i++)
            into[i] = BinaryPrimitives.ReadUInt16BigEndian(values[(i * 2)..]);
    }

    /// <summary>Takes the bits out of an answer in which no fault was found: the first in the lowest bit of the first byte (clause 6.1).</summary>
    public static void CopyBits(ReadOnlySpan<byte> answer, Span<bool> into)
    {
        var values = answer.Slice(2, (into.Length + 7) / 8);
        for (var i = 0; i < into.Length; i++)
            into[i] = (values[i >> 3] & (1 << (i & 7))) != 0;
    }

    // Spelled out, not cast: whatever a caller forces into the enumeration, no other code leaves this library.
    private static byte FunctionCode(in ReadRequest request) => request.Table switch
    {
        ModbusTable.Coils => 1,
        ModbusTable.DiscreteInputs => 2,
        ModbusTable.HoldingRegisters => 3,
        ModbusTable.InputRegisters => 4,
        _ => throw new ArgumentException("The request names none of the four tables; make it with its constructor.", nameof(request)),
    };

    private static string Say(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
