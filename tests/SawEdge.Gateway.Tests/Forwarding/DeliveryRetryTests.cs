using SawEdge.Gateway.Forwarding;

namespace SawEdge.Gateway.Tests.Forwarding;

public sealed class DeliveryRetryTests
{
    [Fact]
    public async Task Waits_GrowWithJitterAndStayWithinTheLongest()
    {
        var waits = await WaitsAsync(times: 400, _ => new ServerAnswer(503));

        Assert.Equal(400, waits.Count);
        Assert.All(waits, wait => Assert.InRange(wait, TimeSpan.FromTicks(1), DeliveryRetry.Longest));
        Assert.All(waits.Take(2), wait => Assert.InRange(wait, TimeSpan.FromTicks(1), 5 * DeliveryRetry.First));
        // It has come to the longest, and stays there for a weekend without overflowing.
        Assert.True(waits.Skip(20).Average(wait => wait.TotalSeconds) > 0.5 * DeliveryRetry.Longest.TotalSeconds);
        // Two gateways that lost the same server do not come back in step.
        Assert.NotEqual(waits.Take(5), (await WaitsAsync(times: 5, _ => new ServerAnswer(503))).Take(5));
    }

    [Fact]
    public async Task Waits_TheServersWishGoesBeforeTheBackOff()
    {
        var waits = await WaitsAsync(times: 3, number => new ServerAnswer(429, "", number == 1 ? TimeSpan.FromSeconds(17) : null));

        Assert.Equal(TimeSpan.FromSeconds(17), waits[1]);
        Assert.NotEqual(TimeSpan.FromSeconds(17), waits[0]);
    }

    [Theory]
    [InlineData(204, 0)]
    [InlineData(400, 0)]
    [InlineData(422, 0)]
    [InlineData(413, 0)]
    [InlineData(404, 3)]
    [InlineData(0, 3)]
    public async Task OnlyAnswersThatAreNotAboutThePoints_AreTriedAgain(int status, int waits) =>
        Assert.Equal(waits, (await WaitsAsync(times: 3, _ => new ServerAnswer(status))).Count);

    private static async Task<List<TimeSpan>> WaitsAsync(int times, Func<int, ServerAnswer> answer)
    {
        var time = new InstantTime();
        var told = 0;
        using var retry = new DeliveryRetry(time, (_, _) => told++);
        var sent = 0;
        await retry.ExecuteAsync((_, _) => Task.FromResult(sent < times ? answer(sent++) : new ServerAnswer(204)), 0, CancellationToken.None);
        Assert.Equal(time.Waits.Count, told);
        return time.Waits;
    }

    /// <summary>A clock on which every wait is over at once, and noted.</summary>
    private sealed class InstantTime : TimeProvider
    {
        private TimeSpan _passed;

        public List<TimeSpan> Waits { get; } = [];

        public override DateTimeOffset GetUtcNow() => DateTimeOffset.UnixEpoch + _passed;

        public override long GetTimestamp() => _passed.Ticks;

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
        {
            if (dueTime > TimeSpan.Zero)
                Waits.Add(dueTime);
            if (dueTime > TimeSpan.Zero)
                _passed += dueTime;
            return System.CreateTimer(callback, state, dueTime == Timeout.InfiniteTimeSpan ? dueTime : TimeSpan.Zero, period);
        }
    }
}
