namespace SawEdge.Core.Load;

/// <summary>How many cuts a saw makes in 30 days, and the score that follows from how many false alarms a person accepts.</summary>
internal sealed class CutRate
{
    private const double Days = 30;

    // Before a day has passed the rate is that of a saw in steady use; judgement, no source.
    private const double UsualCutsADay = 200;

    private double _cuts;
    private long _firstTicks;
    private long _lastTicks;

    /// <summary>Cuts in 30 days, old ones fading with that time constant.</summary>
    public double CutsPerMonth
    {
        get
        {
            var watched = TimeSpan.FromTicks(_lastTicks - _firstTicks).TotalDays;
            return watched < 1 ? UsualCutsADay * Days : _cuts / (1 - Math.Exp(-watched / Days));
        }
    }

    /// <summary>The score that so many normal cuts in 30 days reach: -log10(false alarms / cuts), from 2 to 8.</summary>
    /// <param name="falseAlarmsPerMonth">False alarms that are accepted in 30 days.</param>
    public double Threshold(double falseAlarmsPerMonth) => Math.Clamp(Math.Log10(Math.Max(1, CutsPerMonth) / falseAlarmsPerMonth), 2, 8);

    /// <summary>Counts a cut that was scored.</summary>
    public void Count(DateTimeOffset at)
    {
        if (_cuts > 0)
            _cuts *= Math.Exp(-Math.Max(0, TimeSpan.FromTicks(at.UtcTicks - _lastTicks).TotalDays) / Days);
        else
            _firstTicks = at.UtcTicks;
        _cuts++;
        _lastTicks = Math.Max(_lastTicks, at.UtcTicks);
    }

    /// <summary>Writes everything down.</summary>
    public void Save(MemoryWriter to)
    {
        to.Number(_cuts);
        to.Long(_firstTicks);
        to.Long(_lastTicks);
    }

    /// <summary>Goes on from what was written down.</summary>
    public void Restore(MemoryReader from) => (_cuts, _firstTicks, _lastTicks) = (from.Number(), from.Long(), from.Long());
}
