using CsCheck;

namespace SawEdge.Modbus.Tests;

/// <summary>Whatever bytes come over an RTU line, in whatever pieces: nothing crashes, and nothing but a valid answer is taken for one.</summary>
public sealed class RtuArbitraryBytesTests
{
    private static readonly ReadRequest Request = new(1, ModbusTable.HoldingRegisters, 10, 2);

    private static readonly Gen<byte[]> Parts = Gen.OneOf(
        Gen.Byte.Array[0, 12],
        Gen.Int[0, 5].Select(i => new byte[] { 0, 1, 3, 4, 0x83, 2 }[i]).Array[0, 12],
        Gen.Byte.Array[4].Select(values => RtuDevice.Frame(1, [3, 4, .. values])),
        Gen.Select(Gen.Byte, Gen.Byte.Array[0, 30]).Select((unit, pdu) => RtuDevice.Frame(unit, pdu)),
        Gen.Select(Gen.Byte[1, 247], Gen.Byte[1, 4], Gen.Byte.Array[1, 250]).Select((unit, function, values) => RtuDevice.Frame(unit, [function, (byte)values.Length, .. values])),
        Gen.Const(Sent()),
        Gen.Byte.Select(code => RtuDevice.Frame(1, [0x83, code])),
        Gen.Select(Gen.Byte.Array[4], Gen.Int[0, 8], Gen.Byte).Select((values, at, b) => Bent(RtuDevice.Frame(1, [3, 4, .. values]), at, b)));

    [Fact]
    public void TryFind_AnyBytesInAnyPieces_TakesOnlyValidAnswers_AndFindsThePlainOne() =>
        Gen.Select(Parts.Array[0, 8], Gen.Int[1, 40]).Sample(
            (parts, piece) =>
            {
                byte[] stream = [.. parts.SelectMany(part => part)];
                var input = new RtuInput();
                input.Begin(Request);
                var unanswered = new UnansweredRequests();
                long late = 0;
                var isFound = false;
                for (var at = 0; at < stream.Length && !isFound; at += piece)
                {
                    var count = Math.Min(piece, stream.Length - at);
                    Assert.True(input.Space.Length >= 256);
                    stream.AsMemory(at, count).CopyTo(input.Space);
                    input.Add(count);
                    isFound = input.TryFind(unanswered, ref late, out var answer);
                    if (!isFound)
                        continue;
                    Assert.Null(RtuFrame.FindFault(Request, answer, out var exception));
                    Assert.Equal(exception, input.Exception);
                    Assert.True(stream.AsSpan(0, at + count).IndexOf(answer) >= 0);
                }

                // What comes alone, or first after the echo, is found whatever it holds.
                if (parts.Length > 0 && RtuFrame.FindFault(Request, parts[0], out _) is null)
                    Assert.True(isFound);
                if (!isFound && stream.Length > 0)
                    input.Fault();
            },
            iter: 50_000);

    [Fact]
    public void TryFind_AnswerAfterNoiseWithoutItsHeader_IsFound() =>
        Gen.Select(Gen.Byte[5, 127].Array[0, 400], Gen.Byte.Array[4], Gen.Int[1, 40]).Sample(
            (noise, values, piece) =>
            {
                byte[] stream = [.. noise.Select(b => b is >= 1 and <= 4 ? (byte)0 : b), .. RtuDevice.Frame(1, [3, 4, .. values])];
                var input = new RtuInput();
                input.Begin(Request);
                long late = 0;
                var isFound = false;
                for (var at = 0; at < stream.Length; at += piece)
                {
                    var count = Math.Min(piece, stream.Length - at);
                    stream.AsMemory(at, count).CopyTo(input.Space);
                    input.Add(count);
                    isFound |= input.TryFind(new UnansweredRequests(), ref late, out _);
                }

                Assert.True(isFound);
            },
            iter: 5_000);

    [Fact]
    public void LengthOf_AnyBytes_IsWithinTheLimits() =>
        Gen.Byte.Array[0, 8].Sample(
            bytes =>
            {
                var length = RtuFrame.LengthOf(bytes);
                Assert.True(length is -1 or 0 or (>= RtuFrame.ExceptionLength and <= RtuFrame.MaximumLength));
                if (length > 0)
                    Assert.InRange(bytes[0], RtuFrame.LowestUnit, RtuFrame.HighestUnit);
            },
            iter: 20_000);

    [Fact]
    public void Crc_AnyBytes_IsThatOfTheStandardsFlowChart() =>
        Gen.Byte.Array[0, 256].Sample(bytes => Assert.Equal(RtuDevice.Crc(bytes), RtuFrame.Crc(bytes)), iter: 5_000);

    private static byte[] Sent()
    {
        var bytes = new byte[RtuFrame.RequestLength];
        RtuFrame.Encode(Request, bytes);
        return bytes;
    }

    private static byte[] Bent(byte[] frame, int at, byte b)
    {
        frame[at] = b;
        return frame;
    }
}
