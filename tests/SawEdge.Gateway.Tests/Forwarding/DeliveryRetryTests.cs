using Microsoft.Extensions.Time.Testing;
using SawEdge.Gateway.Forwarding;
using SawEdge.TestSupport;

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

    [Fact]
    public async Task ServerInTrouble_IsAskedByOneOfAllThatWait_UntilItAnswers()
    {
        var time = new CountedTime();
        using var retry = new DeliveryRetry(time, (_, _) => { });
        var (isDown, asked, atOnce, most) = (true, 0, 0, 0);
        async Task<ServerAnswer> SendAsync(int lane, CancellationToken cancellation)
        {
            most = Math.Max(most, Interlocked.Increment(ref atOnce));
            Interlocked.Increment(ref asked);
            await Task.Delay(TimeSpan.FromMilliseconds(100), time, cancellation);
            Interlocked.Decrement(ref atOnce);
            return new ServerAnswer(isDown ? 503 : 204);
        }

        Task<ServerAnswer>[] lanes = [.. Enumerable.Range(0, 6).Select(lane => retry.ExecuteAsync(SendAsync, lane, CancellationToken.None))];
        async Task PassAsync(TimeSpan span)
        {
            for (var passed = TimeSpan.Zero; passed < span; passed += TimeSpan.FromMilliseconds(500))
            {
                time.Advance(TimeSpan.FromMilliseconds(500));
                await Until.TrueAsync(() => time.Waiting == lanes.Count(lane => !lane.IsCompleted), "each waits for the clock");
            }
        }

        await PassAsync(TimeSpan.FromSeconds(10));
        (asked, most) = (0, 0);
        await PassAsync(TimeSpan.FromHours(1));

        // An hour with waits of half a minute to a minute, whoever asks; each lane for itself would be six times as much.
        Assert.InRange(asked, 50, 140);
        Assert.Equal(1, most);
        isDown = false;
        await PassAsync(DeliveryRetry.Longest + TimeSpan.FromSeconds(10));
        Assert.All(lanes, lane => Assert.True(lane.IsCompletedSuccessfully));
    }

    [Fact]
    public async Task TryNow_WhileOthersWait_EndsTheirWaits()
    {
        var time = new FakeTimeProvider(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero));
        using var retry = new DeliveryRetry(time, (_, _) => { });
        var isDown = true;
        Task<ServerAnswer>[] lanes = [.. Enumerable.Range(0, 3).Select(lane => retry.ExecuteAsync((_, _) => Task.FromResult(new ServerAnswer(isDown ? 401 : 204)), lane, CancellationToken.None))];
        for (var i = 0; i < 600; i++)
            time.Advance(TimeSpan.FromSeconds(1));

        isDown = false;
        await retry.TryNowAsync(CancellationToken.None);

        Assert.All(await Task.WhenAll(lanes).WaitAsync(TimeSpan.FromMinutes(3)), answer => Assert.Equal(204, answer.Status));
    }

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

    /// <summary>A clock that knows how many wait for it.</summary>
    private sealed class CountedTime() : FakeTimeProvider(new DateTimeOffset(2026, 3, 2, 6, 0, 0, TimeSpan.Zero))
    {
        private int _waiting;

        public int Waiting => Volatile.Read(ref _waiting);

        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
        {
            Interlocked.Increment(ref _waiting);
            return new CountedTimer(base.CreateTimer(callback, state, dueTime, period), this);
        }

        private sealed class CountedTimer(ITimer inner, CountedTime time) : ITimer
        {
            private int _isDisposed;

            public bool Change(TimeSpan dueTime, TimeSpan period) => inner.Change(dueTime, period);

            public void Dispose()
            {
                if (Interlocked.Exchange(ref _isDisposed, 1) == 0)
                    Interlocked.Decrement(ref time._waiting);
                inner.Dispose();
            }

            public ValueTask DisposeAsync()
            {
                Dispose();
                return default;
            }
        }
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
            {
                Waits.Add(dueTime);
                _passed += dueTime;
            }

            return System.CreateTimer(callback, state, dueTime == Timeout.InfiniteTimeSpan ? dueTime : TimeSpan.Zero, period);
        }
    }
}
