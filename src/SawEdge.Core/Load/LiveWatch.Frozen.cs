namespace SawEdge.Core.Load;

/// <summary>A signal that stands still in a running cut.</summary>
public sealed partial class LiveWatch
{
    private const double LeastFrozenSeconds = 3;
    private const int LeastFrozenFrames = 20;
    private const double LeastMissingMm = 3;

    private double _lastChange;
    private double _loadStepSum;
    private double _leastLoadStep;
    private int _loadSteps;
    private int _turns;
    private bool _scattersNow;
    private int _loadRun;
    private long _loadRunTicks;
    private double _loadRunHead = double.NaN;

    private double _headRaw = double.NaN;
    private double _leastHeadStep;
    private long _headRunTicks;
    private int _stands;
    private LiveReference _standReference;

    private void ForgetScatter()
    {
        _lastChange = _loadStepSum = 0;
        _leastLoadStep = _leastHeadStep = double.PositiveInfinity;
        _loadSteps = _turns = 0;
        _scattersNow = false;
        _headRunTicks = 0;
        _headRaw = double.NaN;
    }

    // A load that goes up and down by several of its own steps is noisier than its rounding, so that two equal readings are
    // chance and twenty are not. One without noise, or in coarse steps, may well stand.
    private void FollowScatter(double load, long ticks)
    {
        var change = load - _load;
        if (change == 0)
        {
            _loadRun++;
            return;
        }

        _loadRun = 1;
        _loadRunTicks = ticks;
        _loadRunHead = _head;

        // Smaller than any transducer's step: the last digits of a number.
        if (!_contact || !(Math.Abs(change) > 1e-6 * Math.Abs(load)))
            return;
        _leastLoadStep = Math.Min(_leastLoadStep, Math.Abs(change));
        _loadStepSum += Math.Abs(change);
        _loadSteps++;
        _turns += change * _lastChange < 0 && Math.Min(Math.Abs(change), Math.Abs(_lastChange)) >= 2 * _leastLoadStep ? 1 : 0;
        _lastChange = change;
        _scattersNow = _loadSteps >= 30 && _turns >= 10 && _loadStepSum >= 3 * _leastLoadStep * _loadSteps;
    }

    private void WatchFrozenLoad(in Now now)
    {
        var seconds = Seconds(now.Ticks - _loadRunTicks);
        if (_loadRun < LeastFrozenFrames || seconds < LeastFrozenSeconds || Found(LiveFindingKind.FrozenSignal))
            return;
        var inCut = double.IsNaN(_head) ? _contact : IsInStock(now) && (_contact || now.Section is not null);
        if (!(_scattersNow || _loadScatters) || !inCut || _bladeOn == false || !(_load > 0.3 * now.IdleKw))
            return;

        // At idle it stands in a hold as well, where nothing scatters.
        if (!(now.NetKw >= 0.15 * now.IdleKw) && !(_loadRunHead - _head >= 1))
            return;
        Find(LiveFindingKind.FrozenSignal, now, seconds, LeastFrozenSeconds, LiveWords.FrozenLoad(_load, seconds, _loadRun));
    }

    private void FollowHeadStand(double head, long ticks)
    {
        if (head == _headRaw)
            return;
        var step = Math.Abs(head - _headRaw);
        if (step < _leastHeadStep)
            _leastHeadStep = step;
        _headRaw = head;
        _headRunTicks = ticks;
        _stands = 0;
    }

    // A head in a hold stands as well, but there the load falls; a stalled one raises it.
    private void WatchFrozenHead(in Now now)
    {
        if (!_contact || now.Inrush || _bladeOn == false || Found(LiveFindingKind.FrozenSignal) || !IsInStock(now) || _headRunTicks == 0)
            return;
        if (_highTicks != 0 || Found(LiveFindingKind.Stall))
        {
            _standReference = default;
            return;
        }

        if (_stands++ == 1 && !Before(now, out _standReference, out _))
            _standReference = default;
        var netBefore = _standReference.LoadKw - now.IdleKw;
        if (_stands < 2 || !(_standReference.PaceMmS >= LeastPaceMmS))
            return;
        if (!(now.NetKw > 0.5 * netBefore) || !(now.NetKw < 1.6 * netBefore))
        {
            // No running cut any more; until the head moves again this says nothing.
            _standReference = default;
            return;
        }

        if (_stands < 5)
            return;

        var seconds = Seconds(now.Ticks - _headRunTicks);
        var expected = _standReference.PaceMmS * (now.Section is null ? 0.2 : 0.7 * Narrowing(now, _standReference)) * seconds;
        if (expected < Math.Max(LeastMissingMm, 5 * _leastHeadStep))
            return;
        Find(LiveFindingKind.FrozenSignal, now, seconds, seconds * LeastMissingMm / expected, LiveWords.FrozenHead(_headRaw, seconds, expected, _load));
    }
}
