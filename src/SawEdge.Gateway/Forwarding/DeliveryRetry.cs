using Polly;
using Polly.Retry;

namespace SawEdge.Gateway.Forwarding;

/// <summary>Sends again until a server has answered to the points themselves: exponential back-off with jitter, or as long as the server asks.</summary>
internal static class DeliveryRetry
{
    /// <summary>About the first wait.</summary>
    public static readonly TimeSpan First = TimeSpan.FromSeconds(1);

    /// <summary>The longest wait that the back-off comes to: after a weekend without a network, delivery begins within this.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromMinutes(1);

    /// <summary>Builds the pipeline.</summary>
    /// <param name="time">The clock of the waits.</param>
    /// <param name="points">Points in the request, for the verdict.</param>
    /// <param name="onTrouble">Told of every answer that leads to another try.</param>
    /// <param name="untilMended">Whether what somebody has to mend is waited for, too.</param>
    public static ResiliencePipeline<ServerAnswer> Build(TimeProvider time, Func<int> points, Action<Verdict, ServerAnswer> onTrouble, bool untilMended = true)
    {
        bool Again(ServerAnswer? answer) => answer is not null && DeliveryRules.Judge(answer.Status, points()) is var verdict && (verdict == Verdict.Wait || (untilMended && verdict == Verdict.Mend));
        return new ResiliencePipelineBuilder<ServerAnswer> { TimeProvider = time }
            .AddRetry(new RetryStrategyOptions<ServerAnswer>
            {
                ShouldHandle = arguments => ValueTask.FromResult(arguments.Outcome.Exception is null && Again(arguments.Outcome.Result)),
                MaxRetryAttempts = int.MaxValue,
                BackoffType = DelayBackoffType.Exponential,
                UseJitter = true,
                Delay = First,
                MaxDelay = Longest,
                DelayGenerator = arguments => ValueTask.FromResult(arguments.Outcome.Result is { } answer ? DeliveryRules.WaitFor(answer) : null),
                OnRetry = arguments =>
                {
                    if (arguments.Outcome.Result is { } answer)
                        onTrouble(DeliveryRules.Judge(answer.Status, points()), answer);
                    return default;
                },
            })
            .Build();
    }
}
