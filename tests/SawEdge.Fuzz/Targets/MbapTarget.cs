using System.Buffers.Binary;
using SawEdge.Modbus;

namespace SawEdge.Fuzz.Targets;

/// <summary>Answers by Modbus TCP: header and protocol data unit.</summary>
internal sealed class MbapTarget : IFuzzTarget
{
    private const int At = ModbusInput.HeaderLength;

    public string Name => "mbap";

    public int MaximumLength => At + (2 * MbapFrame.MaximumLength);

    public IEnumerable<byte[]> Seeds =>
    [
        [2, 1, 255, 0, 1, 0, 0, 0, 5, 17, 3, 2, 2, 43],
        [0, 0, 255, 0, 1, 0, 0, 0, 4, 17, 1, 1, 1],
        [3, 0, 255, 0, 1, 0, 0, 0, 3, 17, 0x84, 2],
    ];

    public IReadOnlyList<byte[]> Tokens => [[0, 0, 0, 5, 17, 3, 2], [0, 0], [17, 3], [17, 0x83], [17, 1, 1], [0xFF, 0xFF]];

    // The text of a fault for each piece, and the values here.
    public long MostAllocated(int length) => 4096 + (256L * length);

    public void FixUp(Span<byte> input)
    {
        if (input.Length < At + 9)
            return;
        var request = ModbusInput.Request(input, 17);
        input[(At + 2)..(At + 4)].Clear();
        BinaryPrimitives.WriteUInt16BigEndian(input[(At + 4)..], (ushort)(1 + ModbusPdu.AnswerLength(request)));
        input[At + 6] = 17;
        input[At + 7] = (byte)request.Table;
        input[At + 8] = (byte)request.AnswerBytes;
    }

    public void Run(ReadOnlySpan<byte> input)
    {
        if (input.Length < At)
            return;
        var request = ModbusInput.Request(input, 17);
        var received = input[At..];
        string? fault = null;
        var told = 0;
        for (var count = 0; count <= received.Length; count += ModbusInput.Piece(input))
        {
            var now = MbapFrame.FindFault(received[..count], out var length);
            FuzzFinding.Unless(fault is null || now == fault, "a fault went away when more came");
            FuzzFinding.Unless(told == 0 || length == told, "the length changed when more came");
            FuzzFinding.Unless(length == 0 || (now is null && length is > MbapFrame.HeaderLength and <= MbapFrame.MaximumLength), "a length outside the limits");
            (fault, told) = (now, length);
        }

        if (told == 0 || received.Length < told)
            return;
        var pdu = MbapFrame.Pdu(received[..told]);
        var answerFault = ModbusPdu.FindFault(request, pdu, out var exception);
        FuzzFinding.Unless(answerFault is null == IsValid(request, pdu), $"the answer was judged: {answerFault ?? "valid"}");
        FuzzFinding.Unless(answerFault is not null || ModbusPdu.CanHaveLength(request, pdu.Length), "a valid answer has a length that it cannot have");
        if (answerFault is null && exception == ModbusExceptionCode.None)
            FuzzFinding.Unless(pdu.SequenceEqual(ModbusInput.Again(request, pdu)), "the values do not give the same bytes again");
    }

    // By the standard's words, not by the code's way (Modbus Application Protocol V1.1b3, clauses 6.1 to 6.4 and 7).
    private static bool IsValid(in ReadRequest request, ReadOnlySpan<byte> pdu)
    {
        var bytes = request.IsBits ? (request.Quantity / 8) + (request.Quantity % 8 == 0 ? 0 : 1) : 2 * request.Quantity;
        return (pdu.Length == 2 && pdu[0] == 128 + (int)request.Table && pdu[1] != 0)
            || (pdu.Length == 2 + bytes && pdu[0] == (int)request.Table && pdu[1] == bytes);
    }
}
