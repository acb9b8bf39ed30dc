using Polly;
using Polly.CircuitBreaker;
using Polly.Retry;

namespace SawEdge.Gateway.Forwarding;

/// <summary>
/// Sends again until a server has answered to the points themselves. All who send to the same server share it: its circuit breaker opens
/// with the first answers that are none to the points, stays open for a time that doubles with jitter or for as long as the server asks, and
/// then lets a single request through. So a server in trouble is asked once for all of them.
/// </summary>
internal sealed class DeliveryRetry : IDisposable
{
    /// <summary>About the first wait.</summary>
    public static readonly TimeSpan First = TimeSpan.FromSeconds(1);

    /// <summary>The longest wait that the back-off comes to: after a weekend without a network, delivery begins within this.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromMinutes(1);

    // Polly wants two requests to judge by, so only the very first one of all can fail without opening it.
    private const int LeastRequests = 2;
    private const double AnyFailure = 0.001;
    private static readonly TimeSpan LookedBackOn = TimeSpan.FromMinutes(1);

    private static readonly ResiliencePropertyKey<TimeSpan?> Asked = new("sawedge.asked");
    private static readonly ResiliencePropertyKey<TimeSpan?> Broken = new("sawedge.broken");

    private readonly CircuitBreakerManualControl _breaker = new();
    private readonly ResiliencePipeline<ServerAnswer> _pipeline;
    private readonly Lock _gate = new();
    private CancellationTokenSource _changed = new();

    /// <summary>Builds the pipeline.</summary>
    /// <param name="time">The clock of the waits.</param>
    /// <param name="onTrouble">Told of every answer that leads to another try; by several at once.</param>
    /// <param name="untilMended">Whether what somebody has to mend is waited for, too.</param>
    public DeliveryRetry(TimeProvider time, Action<Verdict, ServerAnswer> onTrouble, bool untilMended = true)
    {
        // Whether it is one of these does not depend on how many points there were.
        bool Again(ServerAnswer? answer) => answer is not null && DeliveryRules.Judge(answer.Status, points: 1) is var verdict && (verdict == Verdict.Wait || (untilMended && verdict == Verdict.Mend));
        _pipeline = new ResiliencePipelineBuilder<ServerAnswer> { TimeProvider = time }
            .AddRetry(new RetryStrategyOptions<ServerAnswer>
            {
                ShouldHandle = arguments => ValueTask.FromResult(arguments.Outcome.Exception is BrokenCircuitException || (arguments.Outcome.Exception is null && Again(arguments.Outcome.Result))),
                MaxRetryAttempts = int.MaxValue,
                DelayGenerator = arguments => ValueTask.FromResult<TimeSpan?>(Wait(arguments.Outcome.Exception as BrokenCircuitException, arguments.Context)),
                OnRetry = arguments =>
                {
                    if (arguments.Outcome is { Exception: null, Result: { } answer })
                        onTrouble(DeliveryRules.Judge(answer.Status, points: 1), answer);
                    return default;
                },
            })
            .AddCircuitBreaker(new CircuitBreakerStrategyOptions<ServerAnswer>
            {
                ShouldHandle = arguments => ValueTask.FromResult(arguments.Outcome.Exception is null && Again(arguments.Outcome.Result)),
                FailureRatio = AnyFailure,
                MinimumThroughput = LeastRequests,
                SamplingDuration = LookedBackOn,
                BreakDurationGenerator = arguments =>
                {
                    var wait = arguments.Context.Properties.GetValue(Asked, null) ?? BackOff(arguments.HalfOpenAttempts);
                    arguments.Context.Properties.Set(Broken, wait);
                    return ValueTask.FromResult(wait);
                },
                ManualControl = _breaker,
            })
            .Build();
    }

    /// <summary>Sends until there is an answer to the points themselves.</summary>
    /// <param name="send">Sends once.</param>
    /// <param name="state">What it sends.</param>
    /// <param name="cancellation">Ends it.</param>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task<ServerAnswer> ExecuteAsync<TState>(Func<TState, CancellationToken, Task<ServerAnswer>> send, TState state, CancellationToken cancellation)
    {
        while (true)
        {
            CancellationToken changed;
            lock (_gate)
                changed = _changed.Token;
            using var either = CancellationTokenSource.CreateLinkedTokenSource(changed, cancellation);
            var context = ResilienceContextPool.Shared.Get(either.Token);
            try
            {
                return await _pipeline.ExecuteAsync(
                    static async (context, state) =>
                    {
                        var answer = await state.send(state.state, context.CancellationToken);
                        context.Properties.Set(Asked, DeliveryRules.WaitFor(answer));
                        return answer;
                    },
                    context,
                    (send, state));
            }
            catch (OperationCanceledException) when (changed.IsCancellationRequested && !cancellation.IsCancellationRequested)
            {
                // Where it goes has changed: at once, whatever the former server was waited for.
            }
            finally
            {
                ResilienceContextPool.Shared.Return(context);
            }
        }
    }

    /// <summary>Ends all waits and tries at once: what was in the way may be mended.</summary>
    public async Task TryNowAsync(CancellationToken cancellation)
    {
        await _breaker.CloseAsync(cancellation);
        CancellationTokenSource former;
        lock (_gate)
            (former, _changed) = (_changed, new CancellationTokenSource());
        await former.CancelAsync();
        former.Dispose();
    }

    /// <inheritdoc/>
    public void Dispose() => _changed.Dispose();

    private static TimeSpan Wait(BrokenCircuitException? broken, ResilienceContext context)
    {
        // Somebody else's request is the one that is let through, or has just opened it again.
        if (broken is not null)
            return broken.RetryAfter is { } left && left > TimeSpan.Zero ? Whole(left) : Jittered(First);
        var wait = context.Properties.GetValue(Broken, null) ?? context.Properties.GetValue(Asked, null) ?? Jittered(First);
        context.Properties.Set(Broken, null);
        return wait;
    }

    private static TimeSpan BackOff(int attempts) => Jittered(TimeSpan.FromSeconds(Math.Min(Longest.TotalSeconds, First.TotalSeconds * Math.Pow(2, Math.Min(attempts, 30)))));

    // Two gateways that lost the same server do not come back in step.
    private static TimeSpan Jittered(TimeSpan wait) => Whole(wait * (0.5 + (0.5 * Random.Shared.NextDouble())));

    // Timers know milliseconds only: a rest of less than one would be no wait at all.
    private static TimeSpan Whole(TimeSpan wait) => TimeSpan.FromMilliseconds(Math.Ceiling(wait.TotalMilliseconds));
}
