using SawEdge.Modbus;

namespace SawEdge.Fuzz.Targets;

/// <summary>
/// What the inputs of both Modbus targets begin with: table, quantity and how many bytes come at once; then what comes.
/// </summary>
internal static class ModbusInput
{
    public const int HeaderLength = 3;

    public static ReadRequest Request(ReadOnlySpan<byte> input, byte unit)
    {
        var table = (ModbusTable)(1 + (input[0] & 3));
        var quantity = 1 + (input[1] * (ReadRequest.Limit(table) - 1) / byte.MaxValue);
        return new ReadRequest(unit, table, 10, quantity);
    }

    public static int Piece(ReadOnlySpan<byte> input) => 1 + input[2];

    /// <summary>The protocol data unit of an answer with values, made anew from what is read out of it.</summary>
    public static byte[] Again(in ReadRequest request, ReadOnlySpan<byte> pdu)
    {
        var again = new byte[ModbusPdu.AnswerLength(request)];
        again[0] = (byte)request.Table;
        again[1] = (byte)request.AnswerBytes;
        if (request.IsBits)
        {
            var bits = new bool[request.Quantity];
            ModbusPdu.CopyBits(pdu, bits);
            for (var i = 0; i < bits.Length; i++)
                again[2 + (i / 8)] |= (byte)(bits[i] ? 1 << (i % 8) : 0);

            // What stands behind the last bit is the device's own business.
            again[^1] |= (byte)(pdu[^1] & (request.Quantity % 8 == 0 ? 0 : 0xFF << (request.Quantity % 8)));
            return again;
        }

        var words = new ushort[request.Quantity];
        ModbusPdu.CopyRegisters(pdu, words);
        for (var i = 0; i < words.Length; i++)
            (again[2 + (2 * i)], again[3 + (2 * i)]) = ((byte)(words[i] >> 8), (byte)words[i]);
        return again;
    }
}
