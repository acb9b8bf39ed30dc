using SawEdge.TestSupport;

namespace SawEdge.Modbus.Tests;

/// <summary>
/// Lines on which everything goes wrong, over real sockets. Each test ends with a correct read over the same reader: nothing
/// that a line does may need a restart.
/// </summary>
public sealed class HostileRtuTests
{
    private static readonly byte[] Flood = [.. Enumerable.Repeat((byte)0x55, 4096)];
    private static readonly byte[] Noise = Hex.Bytes("00 FF 01 03 01 83 F7 00");

    /// <summary>What comes back to a request, ECHO standing for its own bytes, and the fault that is told.</summary>
    public static TheoryData<string, string> BrokenAnswers => new()
    {
        { "01 03 04 00 01 00 02 2A 33", "the CRC is 2A 33, due are 2A 32" },
        { "01 03 04 00 01 00 02", "the answer ends after 7 of 9 bytes" },
        { "01 83 02", "the answer ends after 3 of 5 bytes" },
        { "01", "1 bytes came that are no answer" },
        { "00", "1 bytes came that are no answer" },
        { "ECHO 01 83 02", "the answer ends after 3 of 5 bytes" },
        { "00 00 01 00 00 00 06 01 03 04 00 01 00 02", "14 bytes came that are no answer" },
        { "48 54 54 50 2F 31 2E 31 20 34 30 30", "12 bytes came that are no answer" },
        { "01 83 00 C1 30", "the CRC is C1 30" },
    };

    /// <summary>Valid frames that answer something else; with their right CRC.</summary>
    public static TheoryData<string, string> AnswersToOthers => new()
    {
        { "02 03 04 00 01 00 02", "from unit 2 for function 03" },
        { "01 04 04 00 01 00 02", "from unit 1 for function 04" },
        { "01 84 02", "from unit 1 for function 04" },
        { "01 03 02 00 01", "for function 03 with 7 bytes, due are 9" },
        { "01 03 06 00 01 00 02 00 03", "for function 03 with 11 bytes, due are 9" },
        { "01 83 00", "from unit 1 for function 03 with 5 bytes" },
    };

    [Theory]
    [MemberData(nameof(BrokenAnswers))]
    public Task BrokenAnswer_IsToldWithItsReason_ThenRecovers(string answer, string expected) => IsRefusedAsync(answer, expected);

    [Theory]
    [MemberData(nameof(AnswersToOthers))]
    public Task AnswerToSomebodyElse_IsPassedOver_ThenRecovers(string answer, string expected)
    {
        var bytes = Hex.Bytes(answer);
        return IsRefusedAsync(Convert.ToHexString(RtuDevice.Frame(bytes[0], bytes[1..])), expected);
    }

    [Theory]
    [MemberData(nameof(AnswersToOthers))]
    public async Task AnswerToSomebodyElse_BeforeTheRightOne_IsPassedOver(string answer, string unused)
    {
        Assert.NotEmpty(unused);
        var bytes = Hex.Bytes(answer);
        await IsUnderstoodAsync(request => [.. RtuDevice.Frame(bytes[0], bytes[1..]), .. RtuDevice.CorrectAnswer(request)]);
    }

    [Fact]
    public Task GarbageBeforeTheAnswer_IsPassedOver() => IsUnderstoodAsync(request => [.. Noise, .. RtuDevice.CorrectAnswer(request)]);

    [Fact]
    public Task GarbageAfterTheAnswer_IsDroppedBeforeTheNextRequest() => IsUnderstoodAsync(request => [.. RtuDevice.CorrectAnswer(request), .. Noise]);

    [Fact]
    public Task BrokenAnswerBeforeTheRightOne_IsPassedOver() => IsUnderstoodAsync(request => [.. RtuDevice.CorrectAnswer(request)[..^1], 0x77, .. RtuDevice.CorrectAnswer(request)]);

    [Fact]
    public Task HalfAnAnswerBeforeTheRightOne_IsPassedOver() => IsUnderstoodAsync(request => [.. RtuDevice.CorrectAnswer(request)[..5], .. RtuDevice.CorrectAnswer(request)]);

    // Adapters for two wires that do not switch their receiver off deliver what was sent.
    [Fact]
    public Task EchoOfTheOwnRequest_IsDropped() => IsUnderstoodAsync(request => [.. request, .. RtuDevice.CorrectAnswer(request)]);

    [Fact]
    public Task EchoAfterNoise_IsPassedOver() => IsUnderstoodAsync(request => [0, .. request, .. RtuDevice.CorrectAnswer(request)]);

    // Another master on the line asks the same unit for the same kind of thing, and its answer comes first.
    [Fact]
    public Task RequestOfAnotherMaster_BetweenRequestAndAnswer_IsPassedOver() =>
        IsUnderstoodAsync(request => [.. Hex.Bytes("11 03 00 6B 00 03 76 87"), .. RtuDevice.CorrectAnswer(request)]);

    // Were it not passed over as a whole, what a logger of frames holds in its registers would be taken for a frame.
    [Fact]
    public Task FrameWithinTheAnswerOfAnother_IsNotTakenForOne() =>
        IsUnderstoodAsync(request => [.. RtuDevice.Frame(9, [3, 10, .. RtuDevice.Frame(1, [3, 4, 0x66, 0x66, 0x66, 0x66]), 0]), .. RtuDevice.CorrectAnswer(request)]);

    [Fact]
    public async Task EchoWhoseFirstBytesLookLikeAnAnswer_IsDropped()
    {
        // Address 0x0400: the echo's third byte is the byte count that is due for two registers.
        await using var fixture = new RtuFixture(async talk =>
        {
            while (await RtuDevice.NextAsync(talk) is { } request)
                await talk.SendAsync([.. request, .. RtuDevice.CorrectAnswer(request)]);
        });
        for (var i = 0; i < 20; i++)
            Assert.Equal(ReaderFixture.Expected(0x0400 + i, 2), await fixture.ReadAsync((ushort)(0x0400 + i), 2));
    }

    [Fact]
    public async Task NothingButTheEcho_IsNoAnswer()
    {
        var sent = new TaskCompletionSource();
        await using var fixture = new RtuFixture(async talk =>
        {
            await talk.SendAsync((await RtuDevice.NextAsync(talk))!);
            sent.SetResult();
            await RtuDevice.Correct(talk);
        });
        var silent = await fixture.ReadFailsAsync<ModbusTimeoutException>(10, 2, sent.Task);
        Assert.Contains("unit 1, holding registers 10 to 11: no answer within 1 s. Check", silent.Message, StringComparison.Ordinal);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAfterTroubleAsync(10, 2));
    }

    [Theory]
    [InlineData(0x01)]
    [InlineData(0x06)]
    [InlineData(0x7F)]
    public async Task ExceptionAnswer_IsToldWithItsCode(byte code)
    {
        await using var fixture = new RtuFixture(async talk =>
        {
            await talk.SendAsync(RtuDevice.ExceptionAnswer((await RtuDevice.NextAsync(talk))!, code));
            await RtuDevice.Correct(talk);
        });
        var refused = await Assert.ThrowsAsync<ModbusDeviceException>(() => fixture.ReadAsync(10, 2));
        Assert.Equal(code, (byte)refused.Code);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAsync(10, 2));
        Assert.Equal(2, fixture.Device.Requests.Count);
    }

    [Fact]
    public async Task DribblingDevice_OneByteAtATime_IsUnderstood()
    {
        await using var fixture = new RtuFixture(async talk =>
        {
            while (await RtuDevice.NextAsync(talk) is { } request)
            {
                foreach (var part in RtuDevice.CorrectAnswer(request))
                {
                    await talk.SendAsync([part]);
                    await Task.Yield();
                }
            }
        });
        for (var i = 0; i < 20; i++)
            Assert.Equal(ReaderFixture.Expected(i, 125), await fixture.ReadAsync((ushort)i, 125));
    }

    [Fact]
    public async Task DribblingDevice_AByteAndThenSilence_EndsByTheResponseTimeout()
    {
        var sent = new SemaphoreSlim(0);
        await using var fixture = new RtuFixture(async talk =>
        {
            var answer = RtuDevice.CorrectAnswer((await RtuDevice.NextAsync(talk))!);
            foreach (var part in answer[..3])
            {
                await talk.SendAsync([part]);
                sent.Release();
            }

            await RtuDevice.Correct(talk);
        });
        var reading = fixture.ReadAsync(10, 2);
        for (var i = 0; i < 3; i++)
        {
            // Each byte may come when it will: the time is that of the whole answer.
            await sent.WaitAsync();
            fixture.Clock.Advance(RtuFixture.ResponseTimeout / 3);
        }

        fixture.Clock.Advance(TimeSpan.FromMilliseconds(1));
        await Assert.ThrowsAnyAsync<ModbusException>(() => reading);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAfterTroubleAsync(10, 2));
    }

    [Fact]
    public async Task FloodWithoutEnd_IsGivenUpAtOnce_ThenRecoversOverAnotherConnection()
    {
        await using var fixture = new RtuFixture(
            async talk =>
            {
                await RtuDevice.NextAsync(talk);
                while (true)
                    await talk.SendAsync(Flood);
            },
            RtuDevice.Correct);
        var refused = await Assert.ThrowsAsync<ModbusProtocolException>(() => fixture.ReadAsync(10, 2));
        Assert.Contains("among the first 4096 bytes", refused.Fault, StringComparison.Ordinal);
        Assert.False(fixture.Reader.IsConnected);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAfterTroubleAsync(10, 2));
    }

    [Fact]
    public async Task FloodBetweenRequests_IsGivenUpByTheResponseTimeout_ThenRecoversOverAnotherConnection()
    {
        var flooding = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(
            async talk =>
            {
                await talk.SendAsync(RtuDevice.CorrectAnswer((await RtuDevice.NextAsync(talk))!));
                while (true)
                {
                    await talk.SendAsync(Flood);
                    flooding.TrySetResult();
                }
            },
            RtuDevice.Correct);
        await fixture.ReadAsync(10, 2);
        await flooding.Task;
        var next = fixture.ReadAsync(10, 2);
        await Until.TrueAsync(
            () =>
            {
                fixture.Clock.Advance(TimeSpan.FromMilliseconds(100));
                return next.IsCompleted;
            },
            "the next request is given up");
        Assert.Contains("the line is never silent", (await Assert.ThrowsAsync<ModbusProtocolException>(() => next)).Fault, StringComparison.Ordinal);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAfterTroubleAsync(10, 2));
    }

    [Fact]
    public async Task SilentLine_TimesOut_AndTheConnectionIsGivenUpAfterThree()
    {
        var requests = new SemaphoreSlim(0);
        await using var fixture = new RtuFixture(
            async talk =>
            {
                while (await RtuDevice.NextAsync(talk) is not null)
                    requests.Release();
            },
            RtuDevice.Correct);
        for (var i = 1; i <= ModbusRtuReader.MaximumUnanswered; i++)
        {
            var asked = requests.WaitAsync();
            var reading = fixture.ReadAsync(10, 2, (byte)i);
            await Until.TrueAsync(
                () =>
                {
                    if (!asked.IsCompleted)
                        fixture.Clock.Advance(TimeSpan.FromMilliseconds(5));
                    return asked.IsCompleted;
                },
                "the device is asked");
            fixture.Clock.Advance(RtuFixture.ResponseTimeout);
            await Assert.ThrowsAsync<ModbusTimeoutException>(() => reading);
            Assert.Equal(i < ModbusRtuReader.MaximumUnanswered, fixture.Reader.IsConnected);
        }

        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAfterTroubleAsync(10, 2, 9));
        Assert.Equal(2, fixture.Device.Connections);
    }

    [Fact]
    public async Task ServerThatClosesAfterEachAnswer_IsReadWithoutAnError()
    {
        await using var fixture = new RtuFixture(async talk => await talk.SendAsync(RtuDevice.CorrectAnswer((await RtuDevice.NextAsync(talk))!)));
        for (var i = 0; i < 10; i++)
            Assert.Equal(ReaderFixture.Expected(i, 2), await fixture.ReadAfterTroubleAsync((ushort)i, 2));
    }

    [Fact]
    public async Task CloseInsteadOfTheFirstAnswer_IsALostConnection_ThenRecovers()
    {
        await using var fixture = new RtuFixture(async talk => await RtuDevice.NextAsync(talk), RtuDevice.Correct);
        var lost = await Assert.ThrowsAsync<ModbusConnectionException>(() => fixture.ReadAsync(10, 2));
        Assert.Contains("the connection was lost. Check the serial server's power", lost.Message, StringComparison.Ordinal);
        Assert.False(fixture.Reader.IsConnected);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAfterTroubleAsync(10, 2));
    }

    private static async Task IsRefusedAsync(string answer, string expected)
    {
        var sent = new TaskCompletionSource();
        await using var fixture = new RtuFixture(async talk =>
        {
            var request = (await RtuDevice.NextAsync(talk))!;
            await talk.SendAsync(Hex.Bytes(answer.Replace("ECHO", Convert.ToHexString(request), StringComparison.Ordinal)));
            sent.SetResult();
            await RtuDevice.Correct(talk);
        });
        var reading = fixture.ReadAsync(10, 2);
        await sent.Task.WaitAsync(TimeSpan.FromMinutes(3));
        await Until.TrueAsync(() => fixture.Reader.ReceivedBytes > 0, "the bytes have come");
        fixture.Clock.Advance(RtuFixture.ResponseTimeout);
        var refused = await Assert.ThrowsAsync<ModbusProtocolException>(() => reading);
        Assert.Contains(expected, refused.Fault, StringComparison.Ordinal);
        Assert.StartsWith($"127.0.0.1:{fixture.Device.Port}, unit 1, holding registers 10 to 11: no valid Modbus answer: ", refused.Message, StringComparison.Ordinal);
        Assert.Contains("Check that this port carries RTU frames (RTU over TCP, not Modbus TCP)", refused.Message, StringComparison.Ordinal);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAfterTroubleAsync(10, 2));
        Assert.Equal(1, fixture.Device.Connections);
    }

    private static async Task IsUnderstoodAsync(Func<byte[], byte[]> answer)
    {
        await using var fixture = new RtuFixture(async talk =>
        {
            await talk.SendAsync(answer((await RtuDevice.NextAsync(talk))!));
            await RtuDevice.Correct(talk);
        });
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAsync(10, 2));
        Assert.Equal(ReaderFixture.Expected(20, 3), await fixture.ReadAfterTroubleAsync(20, 3));
        Assert.Equal(ReaderFixture.Expected(30, 3), await fixture.ReadAsync(30, 3));
        Assert.Equal(3, fixture.Device.Requests.Count);
        Assert.Equal(1, fixture.Device.Connections);
    }
}
