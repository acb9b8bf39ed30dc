namespace SawEdge.Gateway.Commands.Reports;

/// <summary>A clock whose place is the plant: a gateway's PC, or that of whoever asks, may stand in another time zone.</summary>
/// <param name="clock">The clock.</param>
/// <param name="zone">The plant's time zone.</param>
internal sealed class PlantTime(TimeProvider clock, TimeZoneInfo zone) : TimeProvider
{
    /// <inheritdoc/>
    public override TimeZoneInfo LocalTimeZone => zone;

    /// <inheritdoc/>
    public override long TimestampFrequency => clock.TimestampFrequency;

    /// <inheritdoc/>
    public override DateTimeOffset GetUtcNow() => clock.GetUtcNow();

    /// <inheritdoc/>
    public override long GetTimestamp() => clock.GetTimestamp();

    /// <inheritdoc/>
    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) => clock.CreateTimer(callback, state, dueTime, period);
}
