namespace SawEdge.Core.Load;

/// <summary>A load that is too high: overload and stall.</summary>
public sealed partial class LiveWatch
{
    /// <summary>Load in the air above this share of the limit is in another unit, or the limit is wrong.</summary>
    private const double IdleOfLimit = 0.7;

    private int _overFrames;
    private long _overTicks;
    private long _highTicks;
    private double _highLimitKw;
    private LiveReference _highReference;

    private void WatchOverload(in Now now, in LiveContext context)
    {
        var limit = _machine.LoadLimitKw ?? double.NaN;
        var idle = double.IsNaN(now.IdleKw) ? context.IdleLoadKw : now.IdleKw;
        if (!(_load > limit) || now.Inrush || _bladeOn == false || idle > IdleOfLimit * limit)
        {
            _overFrames = 0;
            return;
        }

        if (_overFrames++ == 0)
            _overTicks = now.Ticks;

        // Two frames, and a tenth of a second where they come faster than ten a second. Before the head has come down it may
        // be a start that nobody announced, which is over after an inrush.
        var seconds = Seconds(now.Ticks - _overTicks);
        var down = double.IsNaN(_head) ? _bladeOn == true : _highestMm - _head >= LeastDescentMm;
        var least = down ? 0.09 : double.IsNaN(idle) ? double.PositiveInfinity : Seconds(InrushTicks);
        if (Found(LiveFindingKind.Overload) || _overFrames < 2 || seconds < least)
            return;
        Find(LiveFindingKind.Overload, now, _load, limit, LiveWords.Overload(_load, limit, seconds, _machine.MaximumLoadKw is null));
    }

    private void WatchStall(in Now now)
    {
        if (!_contact || now.Inrush || _bladeOn == false || Found(LiveFindingKind.Stall) || !IsInStock(now))
        {
            _highTicks = 0;
            return;
        }

        if (_highTicks == 0)
        {
            var rated = _machine.RatedPowerKw ?? double.PositiveInfinity;
            if (_load <= Math.Min(rated, 1.8 * (now.IdleKw + _netKw)) || !Before(now, out var before, out _) || before.PaceMmS < LeastPaceMmS)
                return;
            var limit = StallLimitKw(now, before.LoadKw);
            if (_load <= limit)
                return;
            (_highTicks, _highLimitKw, _highReference) = (now.Ticks, limit, before);
        }
        else if (_load <= _highLimitKw)
        {
            _highTicks = 0;
            return;
        }

        if (Stands(now, out var seconds, out var expected))
            Find(LiveFindingKind.Stall, now, _load, _highLimitKw, LiveWords.Stall(_load, now.IdleKw, _highLimitKw, now.Section is null ? double.NaN : now.DepthMm, _head, seconds, expected));
    }

    // At or above rated and well above what this cut ran at. Far above that counts below rated too, where the section tells
    // that it is no flange.
    private double StallLimitKw(in Now now, double runningKw)
    {
        var rated = _machine.RatedPowerKw is { } kw ? Math.Max(kw, 1.25 * runningKw) : double.PositiveInfinity;
        return now.Section is null ? rated : Math.Min(rated, 2.5 * runningKw);
    }

    // On the way down: a head that came up again is leaving, or has left.
    private bool IsInStock(in Now now) => _head <= _lowestMm + LeavingMm && now.Section switch
    {
        { } section => now.DepthMm > 0 && now.DepthMm < section.HeightMm - 0.5,
        _ => AboveTable(now) && !(now.DepthMm < 0),
    };

    // Whether the head did not move where it should have, by more than its noise and its steps. A hard place slows a yielding
    // feed, but not to less than 0.7; without the section a flange may slow it to a tenth.
    private bool Stands(in Now now, out double seconds, out double expected)
    {
        (seconds, expected) = (0, 0);
        var pace = _highReference.PaceMmS * (now.Section is null ? 0.1 : 0.7 * Narrowing(now, _highReference));
        var bladeStands = _speedInCut > 0 && _speed < 0.5 * _speedInCut;
        var least = Math.Max(0.2, 5 * _headNoise);
        for (var i = 1; i < _window.Count; i++)
        {
            ref readonly var entry = ref _window[i];
            seconds = Seconds(now.Ticks - entry.Ticks);
            expected = pace * seconds;
            if (expected < least && !bladeStands)
                continue;

            // As read: the median lags by a frame.
            var moved = entry.RawHead - _head1;
            return moved > -0.5 && moved <= Math.Max(bladeStands ? 0.15 : 0, 0.25 * expected);
        }

        return false;
    }
}
