using SawEdge.Gateway.Acquisition;

namespace SawEdge.Gateway.Processing;

/// <summary>
/// By how much the wall clock was set since a saw's frames have their clock. The saw's loop adds it to each frame as it takes it, and changes it only
/// where no cycle can span the change: so it does not matter how many frames are on their way from the source when the clock is set. For one thread.
/// </summary>
/// <param name="clock">The clock of the frames.</param>
internal sealed class ClockShift(FrameClock clock)
{
    private TimeSpan _seen;

    /// <summary>What to add to the time of a frame.</summary>
    public TimeSpan Value { get; private set; }

    /// <summary>What a process that goes on after this one needs to go by the same clock; null: it cannot.</summary>
    public SavedClock? Saved => clock.Boot is { } boot ? new SavedClock(boot, clock.At(0) + Value) : null;

    /// <summary>Goes by the clock of the process before, where that ran since the machine was switched on; otherwise nobody can tell how much time passed.</summary>
    public void Resume(SavedClock? saved)
    {
        if (saved is not null && saved.Boot == clock.Boot)
            Value = _seen = saved.Zero - clock.At(0);
    }

    /// <summary>By how much the wall clock was set since this was asked last; zero: it was not.</summary>
    public TimeSpan LookForStep()
    {
        var deviation = clock.Deviation;
        var step = deviation - _seen;
        _seen = deviation;
        return step.Duration() < FrameClock.Least ? TimeSpan.Zero : step;
    }

    /// <summary>Goes over to what the wall clock said when <see cref="LookForStep"/> looked last, so that nothing is followed that was not told.</summary>
    public void Follow()
    {
        if ((_seen - Value).Duration() >= FrameClock.Least)
            Value = _seen;
    }
}
