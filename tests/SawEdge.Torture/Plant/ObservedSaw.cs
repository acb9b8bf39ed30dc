using SawEdge.Core.Signals;
using SawEdge.Simulator.Saws;

namespace SawEdge.Torture.Plant;

/// <summary>A virtual saw that keeps when it was asked: what the gateway can have seen is known from outside, whatever it says itself.</summary>
internal sealed class ObservedSaw(LiveSaw saw, DateTimeOffset since) : IFrameSource
{
    /// <summary>Time without a question that is called a gap: as much as a time in a record may be off.</summary>
    private static readonly TimeSpan Least = TimeSpan.FromMilliseconds(500);

    private readonly Lock _lock = new();
    private readonly List<(DateTimeOffset From, DateTimeOffset To)> _gaps = [];
    private DateTimeOffset _last = since;
    private long _counted = -1;
    private long _steps;

    /// <summary>How often an answer showed a further part on the counter.</summary>
    public long Steps => Interlocked.Read(ref _steps);

    /// <inheritdoc/>
    public bool TryRead(out SignalFrame frame)
    {
        var answers = saw.TryRead(out frame);
        var now = TimeProvider.System.GetUtcNow();
        lock (_lock)
        {
            if (now - _last > Least)
                _gaps.Add((_last, now));
            _last = now;
            var count = (long)frame.Number(Signal.PartCount);
            if (count != _counted && _counted >= 0)
                Interlocked.Increment(ref _steps);
            _counted = count;
        }

        return answers;
    }

    /// <summary>The trial knows that what was asked in a time came to nothing: its answers were lost on the way, or the gateway lost them as it may.</summary>
    public void Forget(DateTimeOffset from, DateTimeOffset to)
    {
        lock (_lock)
            _gaps.Add((from, to));
    }

    /// <summary>The times in which nobody asked, up to now.</summary>
    public IReadOnlyList<(DateTimeOffset From, DateTimeOffset To)> Gaps()
    {
        lock (_lock)
            return [.. _gaps, (_last, DateTimeOffset.MaxValue)];
    }
}
