namespace SawEdge.Core.Alarms;

/// <content>Rules that are exchanged while the saw goes on.</content>
public sealed partial class SawAlarmWatch
{
    /// <summary>
    /// Goes on from the watch whose place this one takes: rules that say the same as before keep what was seen for them (delays that run, cuts that
    /// were counted). Another or new rule begins as at a start.
    /// </summary>
    /// <param name="before">The watch of the same saw until now; of no use afterwards.</param>
    public void GoOnFrom(SawAlarmWatch before)
    {
        (_ticks, _behindTicks, _behind) = (before._ticks, before._behindTicks, before._behind);
        (_lastStarted, _blade, _bladeAreaM2) = (before._lastStarted, before._blade, before._bladeAreaM2);
        for (var i = 0; i < _tracks.Length; i++)
        {
            var signal = (int)_tracks[i].Signal;
            if (before._bySignal[signal] is { } known)
                _tracks[i] = _bySignal[signal] = known;
        }

        for (var i = 0; i < _signalRules.Length; i++)
        {
            var (watch, track) = _signalRules[i];
            var known = Array.Find(before._signalRules, other => other.Watch.Rule.SaysTheSameAs(watch.Rule)).Watch;
            _signalRules[i] = new SignalRule(known ?? watch, _bySignal[(int)track.Signal]!);
        }

        for (var i = 0; i < _findingRules.Length; i++)
            _findingRules[i] = Array.Find(before._findingRules, other => other.Rule.SaysTheSameAs(_findingRules[i].Rule)) ?? _findingRules[i];
        for (var i = 0; i < _cutRules.Length; i++)
            _cutRules[i] = Array.Find(before._cutRules, other => other.Rule.SaysTheSameAs(_cutRules[i].Rule)) ?? _cutRules[i];
        while (before.TryTake(out var change))
            _changes.Enqueue(change);
    }
}
