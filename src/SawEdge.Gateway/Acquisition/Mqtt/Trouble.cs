namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// Decides when a trouble that comes with messages is said: once when it begins, once when it has not come for a while. Trouble
/// that comes and goes with each message is one trouble.
/// </summary>
/// <param name="time">The clock.</param>
/// <param name="onComing">Told each time that it comes, or null.</param>
internal sealed class Trouble(TimeProvider time, Action? onComing = null)
{
    /// <summary>How long it must not have come before it counts as over.</summary>
    public static readonly TimeSpan Calm = TimeSpan.FromSeconds(60);

    private long _latest;

    /// <summary>Whether it is there.</summary>
    public bool IsOn { get; private set; }

    /// <summary>How often it came since it began.</summary>
    public long Count { get; private set; }

    /// <summary>It came.</summary>
    /// <returns>Whether it begins.</returns>
    public bool Comes()
    {
        _latest = time.GetTimestamp();
        onComing?.Invoke();
        if (IsOn)
        {
            Count++;
            return false;
        }

        IsOn = true;
        Count = 1;
        return true;
    }

    /// <summary>It did not come, where it could have.</summary>
    /// <returns>Whether it is over; <see cref="Count"/> still says how often it came.</returns>
    public bool StaysAway()
    {
        if (!IsOn || time.GetElapsedTime(_latest) < Calm)
            return false;
        IsOn = false;
        return true;
    }
}
