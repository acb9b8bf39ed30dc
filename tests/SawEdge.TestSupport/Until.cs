using System.Diagnostics;

namespace SawEdge.TestSupport;

/// <summary>Waiting for a condition of the real world: the only place in the tests that lets time pass.</summary>
public static class Until
{
    // A wait costs only what it takes; one that gives up early fails where a machine is merely busy.
    private static readonly TimeSpan Usual = TimeSpan.FromMinutes(3);

    /// <summary>Waits until a condition holds.</summary>
    /// <exception cref="TimeoutException">It did not hold in time; the message says what was waited for.</exception>
    public static Task TrueAsync(Func<bool> condition, string what, TimeSpan? within = null) =>
        TrueAsync(() => Task.FromResult(condition()), () => what, within);

    /// <inheritdoc cref="TrueAsync(Func{bool}, string, TimeSpan?)"/>
    public static Task TrueAsync(Func<bool> condition, Func<string> what, TimeSpan? within = null) =>
        TrueAsync(() => Task.FromResult(condition()), what, within);

    /// <inheritdoc cref="TrueAsync(Func{bool}, string, TimeSpan?)"/>
    public static Task TrueAsync(Func<Task<bool>> condition, string what, TimeSpan? within = null) => TrueAsync(condition, () => what, within);

    /// <inheritdoc cref="TrueAsync(Func{bool}, string, TimeSpan?)"/>
    public static async Task TrueAsync(Func<Task<bool>> condition, Func<string> what, TimeSpan? within = null)
    {
        var limit = within ?? Usual;
        var started = Stopwatch.GetTimestamp();
        using var pace = new PeriodicTimer(TimeSpan.FromMilliseconds(20));
        while (!await condition())
        {
            if (Stopwatch.GetElapsedTime(started) > limit)
                throw new TimeoutException($"Not within {limit.TotalSeconds} s: {what()}");
            await pace.WaitForNextTickAsync();
        }
    }
}
