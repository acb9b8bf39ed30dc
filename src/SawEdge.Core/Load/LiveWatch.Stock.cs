namespace SawEdge.Core.Load;

/// <summary>Stock that is not where it should be: none at all, or still some below the table.</summary>
public sealed partial class LiveWatch
{
    /// <summary>So far below the top of the stock the blade must have met it, mm; more where the table was not seen yet.</summary>
    private const double LeastDepthMm = 6;
    private const double LeastDepthUnseenMm = 15;

    /// <summary>A load above idle by less than this share of it is idle.</summary>
    private const double IdleBand = 0.1;

    /// <summary>Feed per tooth at which the power is estimated, mm: a usual one; and kerf and factor of safety of that estimate.</summary>
    private const double UsualFeedMm = 0.02;
    private const double ThinKerfMm = 1;
    private const double Safety = 2.5;

    private long _belowTicks;

    private void WatchNoContact(in Now now, in LiveContext context)
    {
        if (_contact || now.Section is not { } section || now.Inrush || _bladeOn == false || Found(LiveFindingKind.NoContact))
            return;
        var least = double.IsNaN(now.BottomMm) ? LeastDepthUnseenMm : LeastDepthMm;
        if (!(now.DepthMm > least) || now.DepthMm > section.HeightMm || !IsIdle(_load, now.IdleKw) || (_loadScatters && _loadRun >= 3))
            return;

        // Idle all the way for a second, over which the head went down.
        var back = -1;
        do
        {
            if (++back >= _window.Count || !IsIdle(_window[back].Load, now.IdleKw))
                return;
        }
        while (back < 1 || now.Ticks - _window[back].Ticks < TimeSpan.TicksPerSecond);
        var from = Math.Max(0, now.TopMm - _window[back].Head);
        var pace = (_window[back].Head - _head) / Seconds(now.Ticks - _window[back].Ticks);
        if (pace < LeastPaceMmS)
            return;
        var narrowest = double.PositiveInfinity;
        for (var i = 0; i <= 8; i++)
            narrowest = Math.Min(narrowest, section.WidthAt(from + ((now.DepthMm - from) * i / 8)));

        // Kienzle's kc over a thin kerf, N/mm2 times mm3/min: what this stock would take at the least.
        var material = context.Job!.Material;
        var kc = material.Kc11NMm2.Value * Math.Pow(UsualFeedMm, -material.Mc.Value);
        var expectedKw = kc * ThinKerfMm * narrowest * pace * 60 / (60e6 * _machine.DriveEfficiency);
        if (expectedKw < Safety * IdleBand * now.IdleKw)
            return;
        Find(LiveFindingKind.NoContact, now, now.DepthMm, least, LiveWords.NoContact(now.DepthMm, section.Notation, _load, expectedKw));
    }

    private static bool IsIdle(double loadKw, double idleKw) => Math.Abs(loadKw - idleKw) <= IdleBand * idleKw;

    // A load that only lags, or a slow stroke, is over within a second.
    private void WatchAfterBreakthrough(in Now now, in LiveContext context)
    {
        var bottom = Math.Min(0, context.BottomMm);
        var least = Math.Max(0.5 * _netSum / Math.Max(1, _netCount), 0.25 * now.IdleKw);
        if (!_contact || now.Inrush || _bladeOn == false || !(_head < bottom) || now.NetKw < least)
        {
            _belowTicks = 0;
            return;
        }

        if (_belowTicks == 0)
            _belowTicks = now.Ticks;
        var seconds = Seconds(now.Ticks - _belowTicks);

        // A frozen load tells nothing of the blade.
        var frozen = (_loadScatters || _scattersNow) && _loadRunTicks <= _belowTicks && _loadRun > 1;
        if (frozen || seconds < 1 || _head > bottom - 1 || Found(LiveFindingKind.LoadAfterBreakthrough))
            return;
        Find(LiveFindingKind.LoadAfterBreakthrough, now, _load, now.IdleKw + least, LiveWords.AfterBreakthrough(bottom - _head, _load, now.IdleKw, seconds));
    }
}
