using SawEdge.Core.Sections;

namespace SawEdge.Core.Load;

/// <summary>A blade that is gone: the load falls to idle while the head goes on down inside the stock.</summary>
public sealed partial class LiveWatch
{
    /// <summary>At or below this share of the load above idle before, the load has fallen to idle.</summary>
    private const double IdleShare = 0.15;

    /// <summary>Slower than this the head stands, mm/s.</summary>
    private const double LeastPaceMmS = 0.05;

    private long _lowTicks;
    private double _lowHead;
    private double _lowHeadRaw;
    private double _lowNetBeforeKw;
    private LiveReference _lowReference;
    private int _lowLoads;
    private int _lowHeads;
    private double _lastShare;

    private void WatchBladeGone(in Now now, in LiveContext context)
    {
        if (!_contact || now.Inrush || _rapid || _bladeOn == false || Found(LiveFindingKind.BladeGone))
        {
            _lowTicks = 0;
            return;
        }

        if (_lowTicks == 0)
        {
            // The look back is only worth its time where the load is low at all.
            if (now.NetKw >= 0.5 * _netKw || !Before(now, out var before, out var netBefore) || before.PaceMmS < LeastPaceMmS)
            {
                _lastShare = 1;
                return;
            }

            FollowShare(now, Math.Max(0, now.NetKw) / netBefore);
            if (now.NetKw > IdleShare * netBefore)
                return;
            (_lowTicks, _lowHead, _lowHeadRaw, _lowReference, _lowNetBeforeKw) = (now.Ticks, _head, _head1, before, netBefore);
            _lowLoads = 1;
            _lowHeads = 0;
            return;
        }

        if (now.NetKw > IdleShare * _lowNetBeforeKw)
        {
            _lowTicks = 0;
            return;
        }

        _lowLoads += now.LoadRead ? 1 : 0;
        var seconds = Seconds(now.Ticks - _lowTicks);

        // The median lags by a frame, and in that the head may have come to a hold.
        var moved = Math.Min(_lowHead - _head, _lowHeadRaw - _head1);
        var pace = _lowReference.PaceMmS;
        var expected = pace * Narrowing(now, _lowReference) * seconds;

        // A hold stands and a retract rises. Two readings, because one may be a glitch.
        if (moved < Math.Max(0.15, 4 * _headNoise) || moved < 0.5 * expected || moved > (5 * pace * seconds) + 2)
        {
            _lowHeads = 0;
            return;
        }

        _lowHeads++;
        if (_lowLoads < 2 || (_lowHeads < 2 && moved < 0.25))
            return;
        if (moved >= 0.3)
            FollowShare(now, 0);
        if (!(now.Section is null ? IsNoGapOfUnknown(now, context, moved, seconds) : IsNoGapOf(now.Section, now, moved / seconds)))
            return;
        Find(LiveFindingKind.BladeGone, now, _load, now.IdleKw + (IdleShare * _lowNetBeforeKw), LiveWords.BladeGone(_lowNetBeforeKw + now.IdleKw, _load, now.DepthMm, _head, moved));
    }

    private bool Before(in Now now, out LiveReference before, out double netKw)
    {
        netKw = double.NaN;
        if (!_window.TryReference(now.Ticks, now.Section, now.TopMm, out before))
            return false;
        netKw = before.LoadKw - now.IdleKw;
        return netKw >= 0.15 * now.IdleKw;
    }

    // How much slower the head may go because the stock is wider here than where the reference was taken.
    private double Narrowing(in Now now, in LiveReference before)
    {
        if (now.Section is not { } section || !(before.WidthMm > 0))
            return 1;
        var widest = 0.0;
        for (var i = -4; i <= 4; i++)
            widest = Math.Max(widest, section.WidthAt(Math.Clamp(now.DepthMm + (i * 0.5), 0, section.HeightMm)));
        return widest > before.WidthMm ? before.WidthMm / widest : 1;
    }

    // The inside of a tube, a thin web or the gap of a bundle explains a low load too: the narrowest place that the lagging
    // load may still show must let expect far more than there is. Power goes with width and with pace to the power of
    // 1 - mc, mc about 0.25 (Kienzle, common practice).
    private bool IsNoGapOf(Section section, in Now now, double pace)
    {
        // Where the table is was not seen before the first whole cut; and below the stock a load that lags falls as well.
        var margin = double.IsNaN(now.BottomMm) ? 12 : Math.Max(2, Math.Max(pace, _lowReference.PaceMmS));
        if (now.DepthMm > section.HeightMm - margin || !(_head - Math.Max(0, now.BottomMm) > margin || double.IsNaN(now.BottomMm)) || !(_lowReference.WidthMm > 0))
            return false;
        var from = now.DepthMm - pace - 0.5;
        var step = (now.DepthMm + 0.5 - from) / 12;
        var narrowest = double.PositiveInfinity;
        for (var i = 0; i <= 12; i++)
            narrowest = Math.Min(narrowest, section.WidthAt(Math.Clamp(from + (i * step), 0, section.HeightMm)));
        var faster = Math.Pow(Math.Clamp(pace / _lowReference.PaceMmS, 0.5, 4), 0.75);
        var expected = _lowNetBeforeKw * faster * narrowest / _lowReference.WidthMm;
        return expected >= 0.1 * now.IdleKw && now.NetKw <= 0.4 * expected;
    }

    // Without a section: earlier cuts of the job never ran empty above the table, or the motor turns no blade at all. And
    // later, for a second: a stretch of blade without teeth is shorter.
    private bool IsNoGapOfUnknown(in Now now, in LiveContext context, double moved, double seconds)
    {
        if (!AboveTable(now) || moved < 0.5 || seconds < 1)
            return false;
        if (KnownJob(context.JobId) is { Cuts: >= EnoughCuts, LowestShare: >= 2 * IdleShare })
            return true;
        return _bladeOn == true && _load < 0.6 * now.IdleKw && moved >= 2;
    }

    private bool AboveTable(in Now now) => _head > Math.Max(2, now.BottomMm + Math.Max(2, _lowReference.PaceMmS));

    // What is the lowest load that this job shows in its stock: two readings in a row, so that noise is none.
    private void FollowShare(in Now now, double share)
    {
        if (_head > Math.Max(2, now.BottomMm + 3))
            _lowestShare = Math.Min(_lowestShare, Math.Max(share, _lastShare));
        _lastShare = share;
    }
}
