namespace SawEdge.Modbus.Tests;

/// <summary>
/// An RTU answer names neither transaction nor address. These devices answer late, with answers that fit the next request in
/// everything but the address; none may be taken for its answer.
/// </summary>
public sealed class RtuLateAnswerTests
{
    [Fact]
    public async Task LateAnswer_BeforeTheNextRequest_IsDropped()
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        var answerNow = new TaskCompletionSource();
        var answered = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            var first = await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            await answerNow.Task;
            await talk.SendAsync(RtuDevice.CorrectAnswer(first!));
            answered.SetResult();
            await RtuDevice.Correct(talk);
        });
        await fixture.ReadFailsAsync<ModbusTimeoutException>(1000, 4, hasIt.Task);
        answerNow.SetResult();
        await answered.Task;
        Assert.Equal(ReaderFixture.Expected(2000, 4), await fixture.ReadAfterTroubleAsync(2000, 4));
        Assert.Equal(1, fixture.Reader.LateAnswers);
        Assert.Equal(ReaderFixture.Expected(3000, 4), await fixture.ReadAsync(3000, 4));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(4)]
    [InlineData(125)]
    public async Task LateAnswer_AfterTheNextRequest_IsNotTakenForItsAnswer(int quantity)
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            var first = await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            var second = await RtuDevice.NextAsync(talk);
            await talk.SendAsync([.. RtuDevice.CorrectAnswer(first!), .. RtuDevice.CorrectAnswer(second!)]);
            await RtuDevice.Correct(talk);
        });
        await fixture.ReadFailsAsync<ModbusTimeoutException>(1000, quantity, hasIt.Task);
        Assert.Equal(ReaderFixture.Expected(2000, quantity), await fixture.ReadAfterTroubleAsync(2000, quantity));
        Assert.Equal(1, fixture.Reader.LateAnswers);
        Assert.Equal(ReaderFixture.Expected(3000, quantity), await fixture.ReadAsync(3000, quantity));
        Assert.Equal(4, fixture.Device.Requests.Count);
    }

    // A device that is always one answer behind: each request is answered with what was asked before it.
    [Fact]
    public async Task DeviceThatIsOneAnswerBehind_NeverGivesValuesOfAnotherAddress()
    {
        var requests = new SemaphoreSlim(0);
        await using var fixture = new RtuFixture(async talk =>
        {
            var before = await RtuDevice.NextAsync(talk);
            requests.Release();
            while (await RtuDevice.NextAsync(talk) is { } request)
            {
                await talk.SendAsync(RtuDevice.CorrectAnswer(before!));
                before = request;
                requests.Release();
            }
        });
        await fixture.ReadFailsAsync<ModbusTimeoutException>(1000, 4, requests.WaitAsync());
        for (var i = 1; i < 20; i++)
        {
            var address = (ushort)(1000 + (100 * i));
            var reading = fixture.ReadAsync(address, 4);
            await SawEdge.TestSupport.Until.TrueAsync(
                () =>
                {
                    fixture.Clock.Advance(TimeSpan.FromMilliseconds(100));
                    return reading.IsCompleted;
                },
                "the read ends");
            try
            {
                Assert.Equal(ReaderFixture.Expected(address, 4), await reading);
            }
            catch (ModbusTimeoutException)
            {
                // The right answer was not there in time, and that is what is told.
            }
        }
    }

    [Fact]
    public async Task LateRefusal_OfThePreviousRequest_LeavesTheNextAnswersRight()
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            var first = await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            var second = await RtuDevice.NextAsync(talk);
            await talk.SendAsync(RtuDevice.ExceptionAnswer(first!, 6));
            var third = await RtuDevice.NextAsync(talk);
            await talk.SendAsync([.. RtuDevice.CorrectAnswer(second!), .. RtuDevice.CorrectAnswer(third!)]);
            await RtuDevice.Correct(talk);
        });
        await fixture.ReadFailsAsync<ModbusTimeoutException>(1000, 4, hasIt.Task);
        Assert.Equal(ReaderFixture.Expected(2000, 4), await fixture.ReadAfterTroubleAsync(2000, 4));
        Assert.Equal(ReaderFixture.Expected(3000, 4), await fixture.ReadAsync(3000, 4));
    }

    [Fact]
    public async Task UnitThatRefusesTheDistinctRequest_IsReadAllTheSame()
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            await talk.SendAsync(RtuDevice.ExceptionAnswer((await RtuDevice.NextAsync(talk))!, 2));
            await RtuDevice.Correct(talk);
        });
        await fixture.ReadFailsAsync<ModbusTimeoutException>(1000, 1, hasIt.Task);
        Assert.Equal(ReaderFixture.Expected(2000, 1), await fixture.ReadAfterTroubleAsync(2000, 1));
    }

    [Fact]
    public async Task AnotherUnit_IsReadWithoutAnExtraRequest_WhileOneOwesAnAnswer()
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            var first = await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            var second = await RtuDevice.NextAsync(talk);
            await talk.SendAsync([.. RtuDevice.CorrectAnswer(first!), .. RtuDevice.CorrectAnswer(second!)]);
            await RtuDevice.Correct(talk);
        });
        await fixture.ReadFailsAsync<ModbusTimeoutException>(1000, 4, hasIt.Task, unit: 7);
        Assert.Equal(ReaderFixture.Expected(2000, 4), await fixture.ReadAfterTroubleAsync(2000, 4, unit: 8));
        Assert.Equal(1, fixture.Reader.LateAnswers);
        Assert.Equal(2, fixture.Device.Requests.Count);
    }

    [Fact]
    public async Task UnitThatWasSilentForLong_IsAskedAtOnce()
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            await RtuDevice.Correct(talk);
        });
        await fixture.ReadFailsAsync<ModbusTimeoutException>(1000, 4, hasIt.Task);
        fixture.Clock.Advance(10.1 * RtuFixture.ResponseTimeout);
        Assert.Equal(ReaderFixture.Expected(1000, 4), await fixture.ReadAfterTroubleAsync(1000, 4));
        Assert.Equal(2, fixture.Device.Requests.Count);
    }

    [Fact]
    public async Task CallerGivesUp_TheLateAnswerIsNotTakenForTheNext()
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            var first = await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            var second = await RtuDevice.NextAsync(talk);
            await talk.SendAsync([.. RtuDevice.CorrectAnswer(first!), .. RtuDevice.CorrectAnswer(second!)]);
            await RtuDevice.Correct(talk);
        });
        using var givingUp = new CancellationTokenSource();
        var reading = fixture.ReadAsync(0, 2, cancellation: givingUp.Token);
        await hasIt.Task;
        await givingUp.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => reading);
        Assert.Equal(ReaderFixture.Expected(500, 2), await fixture.ReadAfterTroubleAsync(500, 2));
    }

    [Fact]
    public async Task DisposeAsync_WithAReadOnItsWay_EndsIt()
    {
        var hasIt = new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously);
        await using var fixture = new RtuFixture(async talk =>
        {
            await RtuDevice.NextAsync(talk);
            hasIt.SetResult();
            await RtuDevice.NextAsync(talk);
        });
        var reading = fixture.ReadAsync(0, 2);
        await hasIt.Task;
        await fixture.Reader.DisposeAsync();
        await Assert.ThrowsAsync<ModbusConnectionException>(() => reading);
        await Assert.ThrowsAsync<ObjectDisposedException>(() => fixture.ReadAsync(0, 2));
    }
}
