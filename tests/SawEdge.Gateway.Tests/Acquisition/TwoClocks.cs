namespace SawEdge.Gateway.Tests.Acquisition;

/// <summary>A wall clock that can be set without touching the monotonic one.</summary>
internal sealed class TwoClocks : TimeProvider
{
    private long _ticks = 1_000_000;

    public DateTimeOffset Wall { get; set; }

    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    /// <summary>Happens once, after the wall clock was read and before the reader has it.</summary>
    public Action? WhileRead { get; set; }

    public override DateTimeOffset GetUtcNow()
    {
        var (wall, happens) = (Wall, WhileRead);
        WhileRead = null;
        happens?.Invoke();
        return wall;
    }

    public override long GetTimestamp() => _ticks;

    public void Pass(TimeSpan time)
    {
        Wall += time;
        _ticks += time.Ticks;
    }
}
