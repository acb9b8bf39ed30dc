using CsCheck;

namespace SawEdge.Modbus.Tests;

/// <summary>Whatever bytes come, nothing crashes or hangs, and nothing but a valid answer is taken for one.</summary>
public sealed class ArbitraryBytesTests
{
    private static readonly Gen<ModbusTable> Tables = Gen.Int[1, 4].Select(code => (ModbusTable)code);

    private static readonly Gen<ReadRequest> Requests =
        from table in Tables
        from quantity in Gen.Int[1, ReadRequest.Limit(table)]
        from address in Gen.Int[0, ReadRequest.AddressSpace - quantity]
        from unit in Gen.Byte
        select new ReadRequest(unit, table, (ushort)address, quantity);

    [Fact]
    public void FindFault_AnyBytes_AcceptsExactlyWhatTheStandardAllows() =>
        Gen.Select(Requests, Gen.Byte.Array[0, 300], Gen.Int[0, 3]).Sample(
            (request, bytes, bent) =>
            {
                var answer = Bend(request, bytes, bent);
                var fault = ModbusPdu.FindFault(request, answer, out var exception);
                Assert.Equal(IsValid(request, answer), fault is null);
                if (fault is not null)
                    Assert.Equal(ModbusExceptionCode.None, exception);
            },
            iter: 20_000);

    [Fact]
    public void FindFault_AnyHeader_TellsALengthWithinTheLimitsOrAFault() =>
        Gen.Byte.Array[0, 16].Sample(
            bytes =>
            {
                var fault = MbapFrame.FindFault(bytes, out var length);
                Assert.True(length == 0 || (fault is null && length is >= 8 and <= MbapFrame.MaximumLength));
                if (bytes.Length >= 6 && fault is null)
                    Assert.Equal(6 + (bytes[4] << 8) + bytes[5], length);
            },
            iter: 20_000);

    [Fact]
    public void Encode_AnyRequest_CanBeReadBack() =>
        Gen.Select(Requests, Gen.UShort).Sample(
            (request, transaction) =>
            {
                var bytes = new byte[MbapFrame.RequestLength];
                MbapFrame.Encode(transaction, request, bytes);
                Assert.Equal(transaction, (bytes[0] << 8) | bytes[1]);
                Assert.Equal([0, 0, 0, 6, request.Unit, (byte)request.Table], bytes[2..8]);
                Assert.Equal(request.Address, (bytes[8] << 8) | bytes[9]);
                Assert.Equal(request.Quantity, (bytes[10] << 8) | bytes[11]);
            },
            iter: 10_000);

    [Fact]
    public void AbandonedTransactions_AnySequence_RemembersTheLastOnes() =>
        Gen.UShort[0, 60].Array[0, 200].Sample(ids =>
        {
            var abandoned = new AbandonedTransactions();
            foreach (var id in ids)
                abandoned.Add(id);
            var last = ids.Reverse().Distinct().Take(AbandonedTransactions.Capacity).ToHashSet();
            for (ushort id = 0; id <= 60; id++)
                Assert.Equal(last.Contains(id), abandoned.Contains(id));
            Assert.All(last, id => Assert.True(abandoned.Remove(id) && !abandoned.Contains(id)));
        });

    [Fact]
    public async Task Read_FromADeviceThatSendsAnyBytes_GivesValuesOnlyFromAValidAnswer()
    {
        byte[] reply = [];
        await using var fixture = new ReaderFixture(async talk =>
        {
            // The bytes, and then the end of the connection, so that no test waits for a timeout.
            if (await talk.NextAsync() is { } request)
                await talk.SendAsync([.. Correct(request, Volatile.Read(ref reply))]);
        });
        var accepted = 0;
        await Gen.Select(Gen.Byte.Array[0, 40], Gen.Int[0, 5]).SampleAsync(
            async (bytes, bent) =>
            {
                var frame = Hex.Bytes("00 00 00 00 00 07 01 03 04 12 34 56 78");
                Volatile.Write(ref reply, bent switch
                {
                    0 => bytes,
                    1 => frame,
                    2 when bytes.Length > 1 => [.. frame[..(bytes[0] % 13)], bytes[1], .. frame[((bytes[0] % 13) + 1)..]],
                    3 => [.. frame, .. bytes],
                    4 => frame[..(bytes.Length % 13)],
                    _ => [.. frame[..8], .. bytes],
                });
                try
                {
                    var values = await fixture.ReadAsync(0, 2);
                    Assert.Equal(frame[..9], [0, 0, .. reply[2..9]]);
                    Assert.Equal([(ushort)((reply[9] << 8) | reply[10]), (ushort)((reply[11] << 8) | reply[12])], values);
                    Interlocked.Increment(ref accepted);
                }
                catch (ModbusException)
                {
                    Assert.NotEqual(frame, reply);
                }
            },
            iter: 400,
            threads: 1);
        Assert.InRange(accepted, 20, 400);
    }

    /// <summary>The reply with its first two bytes turned so that 00 00 becomes the request's transaction identifier.</summary>
    private static IEnumerable<byte> Correct(byte[] request, byte[] reply) => reply.Select((b, i) => i < 2 ? (byte)(b ^ request[i]) : b);

    private static byte[] Bend(in ReadRequest request, byte[] bytes, int bent) => bent switch
    {
        1 => [(byte)request.Table, (byte)request.AnswerBytes, .. new byte[request.AnswerBytes]],
        2 => [(byte)((byte)request.Table | 0x80), .. bytes.Take(1 + (bytes.Length % 2))],
        3 => [(byte)request.Table, (byte)request.AnswerBytes, .. bytes],
        _ => bytes,
    };

    private static bool IsValid(in ReadRequest request, byte[] answer)
    {
        var function = (int)request.Table;
        var bytes = function <= 2 ? (request.Quantity / 8) + (request.Quantity % 8 == 0 ? 0 : 1) : 2 * request.Quantity;
        return (answer.Length == 2 && answer[0] == function + 128 && answer[1] != 0)
            || (answer.Length == bytes + 2 && answer[0] == function && answer[1] == bytes);
    }
}
