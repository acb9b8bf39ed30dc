using Polly;
using Polly.Retry;

namespace SawEdge.Gateway.Notification;

/// <summary>When a channel tries again: exponential back-off with jitter, as long as the receiver asks, or slowly where somebody has to mend something.</summary>
internal static class SendRetry
{
    /// <summary>About the first wait.</summary>
    public static readonly TimeSpan First = TimeSpan.FromSeconds(1);

    /// <summary>The longest wait that the back-off comes to: an alarm must not come much later than the receiver.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromMinutes(1);

    /// <summary>About the wait where somebody has to mend something: wrong passwords again and again get accounts locked.</summary>
    public static readonly TimeSpan Mending = TimeSpan.FromMinutes(2);

    /// <summary>The longest wait that a receiver can ask for: a mistaken header must not keep alarms for a day.</summary>
    public static readonly TimeSpan LongestAsked = TimeSpan.FromMinutes(10);

    /// <summary>The wait after a result, or null to follow the usual back-off. Pure.</summary>
    /// <param name="result">The result.</param>
    /// <param name="jitter">A random number, 0 to 1.</param>
    public static TimeSpan? WaitFor(SendResult result, double jitter)
    {
        if (result.RetryAfter is { } asked)
            return asked < First ? First : asked > LongestAsked ? LongestAsked : asked;
        return result.Verdict == SendVerdict.Mend ? Mending * (0.8 + (0.4 * jitter)) : null;
    }

    /// <summary>Builds the pipeline.</summary>
    /// <param name="time">The clock of the waits.</param>
    public static ResiliencePipeline<SendResult> Build(TimeProvider time) => new ResiliencePipelineBuilder<SendResult> { TimeProvider = time }
        .AddRetry(new RetryStrategyOptions<SendResult>
        {
            ShouldHandle = arguments => ValueTask.FromResult(arguments.Outcome is { Exception: null, Result.IsTrouble: true }),
            MaxRetryAttempts = int.MaxValue,
            BackoffType = DelayBackoffType.Exponential,
            UseJitter = true,
            Delay = First,
            MaxDelay = Longest,
            DelayGenerator = arguments => ValueTask.FromResult(arguments.Outcome.Result is { } result ? WaitFor(result, Random.Shared.NextDouble()) : null),
        })
        .Build();
}
