namespace SawEdge.Modbus.Tests;

/// <summary>
/// Devices that break the protocol, over real sockets. Each test ends with a correct read over the same reader: nothing that
/// a device does may need a restart.
/// </summary>
public sealed class HostileDeviceTests
{
    public static TheoryData<string, string> BrokenAnswers => new()
    {
        // What comes back to transaction 1, unit 1, two holding registers; T stands for the right transaction identifier.
        { "T 00 00 00 07 01 03 04 00 01 00 02 FF", "1 bytes follow the answer" },
        { "T 00 00 00 08 01 03 04 00 01 00 02 00", "announced with 7 bytes" },
        { "T 00 00 00 05 01 03 02 00 01", "announced with 4 bytes" },
        { "T 00 00 00 07 01 03 03 00 01 00 02", "byte count is 3" },
        { "T 00 00 00 07 02 03 04 00 01 00 02", "from unit 2" },
        { "T 00 00 00 07 01 04 04 00 01 00 02", "function 04" },
        { "T 00 00 00 03 01 84 02", "function 84" },
        { "T 00 00 00 03 01 83 00", "code 00" },
        { "T 00 01 00 07 01 03 04 00 01 00 02", "protocol identifier is 1" },
        { "T 00 00 00 01 01", "length field is 1" },
        { "T 00 00 01 00 01 03", "length field is 256" },
        { "77 77 00 00 00 07 01 03 04 00 01 00 02", "transaction 30583" },
        { "48 54 54 50 2F 31 2E 31 20 34 30 30", "transaction 18516" },
        { "01 03 04 00 01 00 02 2A 32", "transaction 259" },
    };

    [Theory]
    [MemberData(nameof(BrokenAnswers))]
    public async Task BrokenAnswer_IsRefusedWithItsReason_ThenRecovers(string answer, string expected)
    {
        await using var fixture = new ReaderFixture(
            async talk =>
            {
                var request = await talk.NextAsync();
                await talk.SendAsync(Hex.Bytes(answer.Replace("T", Convert.ToHexString(request!, 0, 2), StringComparison.Ordinal)));
                Assert.Null(await talk.NextAsync());
            },
            ScriptedDevice.Correct);
        var refused = await Assert.ThrowsAsync<ModbusProtocolException>(() => fixture.ReadAsync(10, 2));
        Assert.Contains(expected, refused.Fault, StringComparison.Ordinal);
        Assert.StartsWith($"127.0.0.1:{fixture.Device.Port}, unit 1, holding registers 10 to 11: ", refused.Message, StringComparison.Ordinal);
        Assert.Contains("Check", refused.Message, StringComparison.Ordinal);
        Assert.False(fixture.Reader.IsConnected);

        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAsync(10, 2));
        Assert.Equal(2, fixture.Device.Connections);
    }

    [Theory]
    [InlineData(0x01)]
    [InlineData(0x02)]
    [InlineData(0x06)]
    [InlineData(0x0B)]
    [InlineData(0x7F)]
    public async Task ExceptionAnswer_IsToldWithItsCode_AndTheConnectionStays(byte code)
    {
        await using var fixture = new ReaderFixture(async talk =>
        {
            var request = await talk.NextAsync();
            await talk.SendAsync(ScriptedDevice.ExceptionAnswer(request!, code));
            await ScriptedDevice.Correct(talk);
        });
        var refused = await Assert.ThrowsAsync<ModbusDeviceException>(() => fixture.ReadAsync(10, 2));
        Assert.Equal(code, (byte)refused.Code);
        Assert.Contains($"holding registers 10 to 11: the device answers exception {code:X2}, ", refused.Message, StringComparison.Ordinal);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAsync(10, 2));
        Assert.Equal(1, fixture.Device.Connections);
    }

    [Fact]
    public async Task DribblingDevice_OneByteAtATime_IsUnderstood()
    {
        await using var fixture = new ReaderFixture(async talk =>
        {
            while (await talk.NextAsync() is { } request)
            {
                foreach (var part in ScriptedDevice.CorrectAnswer(request))
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
    public async Task SilentDevice_TimesOut_AndTheConnectionIsGivenUpAfterThree()
    {
        var requests = new SemaphoreSlim(0);
        await using var fixture = new ReaderFixture(
            async talk =>
            {
                while (await talk.NextAsync() is not null)
                    requests.Release();
            },
            ScriptedDevice.Correct);
        for (var i = 1; i <= ModbusTcpReader.MaximumUnanswered; i++)
        {
            var timeout = await fixture.ReadTimesOutAsync(10, 2, requests.WaitAsync());
            Assert.StartsWith($"127.0.0.1:{fixture.Device.Port}, unit 1, holding registers 10 to 11: no answer within 1 s. Check", timeout.Message, StringComparison.Ordinal);
            Assert.Equal(i < ModbusTcpReader.MaximumUnanswered, fixture.Reader.IsConnected);
        }

        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAsync(10, 2));
        Assert.Equal(2, fixture.Device.Connections);
    }

    [Fact]
    public async Task LateAnswer_ToThePreviousRequest_IsNotTakenForThePresentOne()
    {
        var hasIt = new TaskCompletionSource();
        await using var fixture = new ReaderFixture(async talk =>
        {
            var first = await talk.NextAsync();
            hasIt.SetResult();

            // The answer to the first comes when the second is asked, is as long, from the same unit and function.
            var second = await talk.NextAsync();
            await talk.SendAsync([.. ScriptedDevice.CorrectAnswer(first!), .. ScriptedDevice.CorrectAnswer(second!)]);
            await ScriptedDevice.Correct(talk);
        });
        await fixture.ReadTimesOutAsync(1000, 4, hasIt.Task);
        Assert.Equal(ReaderFixture.Expected(2000, 4), await fixture.ReadAsync(2000, 4));
        Assert.Equal(1, fixture.Reader.LateAnswers);
        Assert.Equal(ReaderFixture.Expected(3000, 4), await fixture.ReadAsync(3000, 4));
        Assert.Equal(1, fixture.Device.Connections);
    }

    [Fact]
    public async Task LateAnswer_CutInTwoByTheTimeout_IsStillRecognised()
    {
        var halfSent = new TaskCompletionSource();
        await using var fixture = new ReaderFixture(async talk =>
        {
            var first = ScriptedDevice.CorrectAnswer((await talk.NextAsync())!);
            await talk.SendAsync(first[..9]);
            halfSent.SetResult();
            var second = await talk.NextAsync();
            await talk.SendAsync(first[9..]);
            await talk.SendAsync(ScriptedDevice.CorrectAnswer(second!));
            await ScriptedDevice.Correct(talk);
        });
        await fixture.ReadTimesOutAsync(1000, 4, halfSent.Task);
        Assert.Equal(ReaderFixture.Expected(2000, 4), await fixture.ReadAsync(2000, 4));
        Assert.Equal(1, fixture.Device.Connections);
    }

    [Fact]
    public async Task LateAnswer_AfterTheNextOneWasAnswered_IsDroppedToo()
    {
        var hasIt = new TaskCompletionSource();
        await using var fixture = new ReaderFixture(async talk =>
        {
            var first = await talk.NextAsync();
            hasIt.SetResult();
            var second = await talk.NextAsync();
            await talk.SendAsync([.. ScriptedDevice.CorrectAnswer(second!), .. ScriptedDevice.CorrectAnswer(first!)]);
            await ScriptedDevice.Correct(talk);
        });
        await fixture.ReadTimesOutAsync(1000, 4, hasIt.Task);
        Assert.Equal(ReaderFixture.Expected(2000, 4), await fixture.ReadAsync(2000, 4));
        Assert.Equal(ReaderFixture.Expected(3000, 4), await fixture.ReadAsync(3000, 4));
        Assert.Equal(1, fixture.Reader.LateAnswers);
        Assert.Equal(1, fixture.Device.Connections);
    }

    [Fact]
    public async Task AnswerTwice_IsNotTakenForTheNextRequest()
    {
        await using var fixture = new ReaderFixture(
            async talk =>
            {
                var first = ScriptedDevice.CorrectAnswer((await talk.NextAsync())!);
                await talk.SendAsync(first);
                await talk.NextAsync();
                await talk.SendAsync(first);
                await talk.NextAsync();
            },
            ScriptedDevice.Correct);
        Assert.Equal(ReaderFixture.Expected(1000, 4), await fixture.ReadAsync(1000, 4));
        await Assert.ThrowsAsync<ModbusProtocolException>(() => fixture.ReadAsync(2000, 4));
        Assert.Equal(ReaderFixture.Expected(2000, 4), await fixture.ReadAsync(2000, 4));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(8)]
    [InlineData(12)]
    public async Task CloseInTheMiddleOfAFrame_IsATruncatedAnswer_ThenRecovers(int bytes)
    {
        await using var fixture = new ReaderFixture(
            async talk => await talk.SendAsync(ScriptedDevice.CorrectAnswer((await talk.NextAsync())!)[..bytes]),
            ScriptedDevice.Correct);
        var truncated = await Assert.ThrowsAsync<ModbusProtocolException>(() => fixture.ReadAsync(10, 2));
        Assert.Contains($"closed the connection {bytes} bytes into a frame", truncated.Fault, StringComparison.Ordinal);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAsync(10, 2));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task CloseInsteadOfTheFirstAnswer_IsALostConnection_ThenRecovers(bool withReset)
    {
        await using var fixture = new ReaderFixture(
            async talk =>
            {
                await talk.NextAsync();
                if (withReset)
                    talk.Reset();
            },
            ScriptedDevice.Correct);
        var lost = await Assert.ThrowsAsync<ModbusConnectionException>(() => fixture.ReadAsync(10, 2));
        Assert.Contains("the connection was lost. Check", lost.Message, StringComparison.Ordinal);
        Assert.Equal(ReaderFixture.Expected(10, 2), await fixture.ReadAsync(10, 2));
    }

    [Fact]
    public async Task DeviceThatClosesAfterEachAnswer_IsReadWithoutAnError()
    {
        await using var fixture = new ReaderFixture(async talk => await talk.SendAsync(ScriptedDevice.CorrectAnswer((await talk.NextAsync())!)));
        for (var i = 0; i < 10; i++)
            Assert.Equal(ReaderFixture.Expected(i, 2), await fixture.ReadAsync((ushort)i, 2));
        Assert.Equal(10, fixture.Device.Connections);
    }
}
