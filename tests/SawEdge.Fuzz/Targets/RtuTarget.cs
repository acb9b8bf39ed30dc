using System.Buffers.Binary;
using SawEdge.Modbus;

namespace SawEdge.Fuzz.Targets;

/// <summary>What comes over an RTU line: noise, echoes, late answers and answers, in pieces.</summary>
internal sealed class RtuTarget : IFuzzTarget
{
    private const int At = ModbusInput.HeaderLength;
    private const int CrcLength = 2;

    public string Name => "rtu";

    public int MaximumLength => At + (3 * RtuFrame.MaximumLength);

    public IEnumerable<byte[]> Seeds =>
    [
        // The answers of clauses 6.3 and 7 of the Application Protocol V1.1b3, from unit 17, and the echo of the request.
        [2, 4, 255, .. Framed(17, 3, 6, 2, 43, 0, 0, 0, 100)],
        [0, 0, 3, 17, 1, 0, 10, 0, 1, .. Framed(17, 1, 1, 1)],
        [3, 0, 255, .. Framed(17, 0x84, 2)],
        [2, 0, 255, 0, 255, .. Framed(18, 3, 2, 0, 0), .. Framed(17, 3, 2, 1, 2)],
    ];

    public IReadOnlyList<byte[]> Tokens => [[17, 3], [17, 4, 2], [17, 0x83], [17, 1, 1], [18, 3, 2], Framed(17, 3, 2, 1, 2), Framed(17, 0x83, 2), Framed(18, 3, 4, 1, 2, 3, 4), [17, 3, 0, 10, 0, 1, 0xA7, 0x58]];

    public long MostAllocated(int length) => 16384 + (16L * length);

    public void FixUp(Span<byte> input)
    {
        if (input.Length < At + 6)
            return;

        // One right frame somewhere in it: an answer that is due, or one of the length that happens to be there.
        var request = ModbusInput.Request(input, 17);
        var rest = input[At..];
        var at = rest[0] % (rest.Length - 5);
        rest = rest[at..];
        rest[0] = (byte)(17 + (rest[^1] & 1));
        if ((rest[^2] & 1) == 0)
            (rest[1], rest[2]) = ((byte)request.Table, (byte)request.AnswerBytes);
        var length = RtuFrame.LengthOf(rest);
        if (length > 0 && length <= rest.Length)
            BinaryPrimitives.WriteUInt16LittleEndian(rest[(length - CrcLength)..], Crc(rest[..(length - CrcLength)]));
    }

    public void Run(ReadOnlySpan<byte> input)
    {
        if (input.Length < At)
            return;
        var request = ModbusInput.Request(input, 17);
        var received = input[At..];
        var search = new RtuInput();
        search.Begin(request);
        var unanswered = new UnansweredRequests();
        unanswered.Add(request, 0);
        unanswered.Add(new ReadRequest(18, ModbusTable.HoldingRegisters, 0, 2), 1);
        var distinct = unanswered.Distinct(request);
        FuzzFinding.Unless(!unanswered.CanBeMistakenFor(distinct) && distinct.AnswerBytes != request.AnswerBytes, "the distinct request can be mistaken");
        if ((input[0] & 4) != 0)
            search.Begin(request = distinct);
        long late = 0;
        for (var at = 0; at < received.Length;)
        {
            var count = Math.Min(Math.Min(ModbusInput.Piece(input), received.Length - at), search.Space.Length);
            FuzzFinding.Unless(search.Space.Length >= RtuFrame.MaximumLength, "there is no room for a frame");
            received.Slice(at, count).CopyTo(search.Space.Span);
            search.Add(count);
            at += count;
            if (search.TryFind(unanswered, ref late, out var answer))
            {
                Check(request, answer, received[..at], search.Exception);
                return;
            }
        }

        FuzzFinding.Unless(search.Received == received.Length && search.Garbage <= received.Length, "bytes were counted wrongly");
        search.Fault();

        // Alone, an answer is always found.
        FuzzFinding.Unless(received.Length > RtuFrame.MaximumLength || RtuFrame.FindFault(request, received, out _) is not null, "a plain answer was not found");
    }

    private static void Check(in ReadRequest request, ReadOnlySpan<byte> answer, ReadOnlySpan<byte> received, ModbusExceptionCode exception)
    {
        FuzzFinding.Unless(received.IndexOf(answer) >= 0, "the answer did not come");
        FuzzFinding.Unless(answer[0] == request.Unit, "the answer is from another unit");
        FuzzFinding.Unless(BinaryPrimitives.ReadUInt16LittleEndian(answer[^CrcLength..]) == Crc(answer[..^CrcLength]), "the CRC is wrong");
        var pdu = RtuFrame.Pdu(answer);
        if (exception == ModbusExceptionCode.None)
            FuzzFinding.Unless(pdu.SequenceEqual(ModbusInput.Again(request, pdu)), "the values do not give the same bytes again");
        else
            FuzzFinding.Unless(pdu.Length == 2 && pdu[0] == 128 + (int)request.Table && pdu[1] == (byte)exception, "no exception answer");
    }

    private static byte[] Framed(params byte[] bytes)
    {
        var crc = Crc(bytes);
        return [.. bytes, (byte)crc, (byte)(crc >> 8)];
    }

    // Bit by bit, as the standard's flow chart has it (Modbus over Serial Line V1.02, clause 6.2.2).
    private static ushort Crc(ReadOnlySpan<byte> bytes)
    {
        var crc = 0xFFFF;
        foreach (var b in bytes)
        {
            crc ^= b;
            for (var bit = 0; bit < 8; bit++)
                crc = (crc & 1) == 1 ? (crc >> 1) ^ 0xA001 : crc >> 1;
        }

        return (ushort)crc;
    }
}
