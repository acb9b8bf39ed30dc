using SawEdge.Core.Sections;

namespace SawEdge.Core.Load;

/// <summary>Where the saw stands in its cycle, and what is learned when it is over.</summary>
public sealed partial class LiveWatch
{
    /// <summary>Contact is looked for from this far above the stock on, mm.</summary>
    private const double NearStockMm = 10;

    /// <summary>Contact further above the stated top than this, mm, and the stock is not what the job says.</summary>
    private const double ToleranceAboveMm = 4;

    /// <summary>A head that has not come down by this much meets no stock, mm.</summary>
    private const double LeastDescentMm = 5;

    /// <summary>Faster than this the head approaches, mm/s (900 mm/min); no blade cuts at that rate.</summary>
    private const double RapidMmS = 15;

    /// <summary>So far above the lowest place it was at, mm, the head leaves the stock, or has left it.</summary>
    private const double LeavingMm = 3;

    private static readonly Now Nowhere = new(default, 0, false, false, double.NaN, double.NaN, null, double.NaN, double.NaN, false, double.NaN);

    private long _cycle;
    private int _found;
    private bool _contact;
    private bool _afterGap;
    private int _contactReadings;
    private double _contactFirst;
    private long _contactAtTicks;
    private bool _rapid;
    private double _contactMm;
    private double _airKw;
    private double _netKw;
    private double _netSum;
    private long _netCount;
    private double _speedInCut;
    private double _lowestMm;
    private double _highestMm;
    private double _lowestShare;
    private string _usedJob = "";

    private void BeginCycle()
    {
        // What is decided in a cycle comes from its own frames only, so that a restart decides the same.
        _window.Clear();
        _place = Nowhere;
        _contactAtTicks = 0;
        _found = 0;
        _contact = _afterGap = false;
        _contactReadings = 0;
        _contactFirst = _contactMm = _airKw = _netKw = _speedInCut = _lowestMm = _highestMm = double.NaN;
        _netSum = 0;
        _netCount = 0;
        _lowestShare = 1;
        _headNoise = 0.03;
        _usedJob = "";
        ForgetScatter();
        ForgetCandidates();
    }

    private void ForgetCandidates()
    {
        _overFrames = 0;
        _lowTicks = 0;
        _highTicks = 0;
        _belowTicks = 0;
        _lastShare = 1;
        _stands = 0;
        _standReference = default;
    }

    private void Learn(in LiveContext context)
    {
        _loadScatters |= _scattersNow;
        var whole = _contact && _found == 0 && _lowestMm <= context.BottomMm + 1.5;
        if (!whole || _usedJob.Length == 0)
            return;
        var index = _jobs.FindIndex(known => known.JobId == _usedJob);
        var before = index >= 0 ? _jobs[index] : new JobLoad(_usedJob, 0, 1);
        if (index >= 0)
            _jobs.RemoveAt(index);
        else if (_jobs.Count == MostJobs)
            _jobs.RemoveAt(0);
        _jobs.Add(before with { Cuts = Math.Min(before.Cuts + 1, EnoughCuts), LowestShare = Math.Min(before.LowestShare, _lowestShare) });
    }

    /// <summary>Brings a frame's values and the job's geometry together.</summary>
    private Now Place(DateTimeOffset at, long ticks, bool loadRead, bool headRead, in LiveContext context)
    {
        var section = context.Job?.Section;
        var bottom = double.IsNaN(context.BottomMm) ? 0 : context.BottomMm;
        var top = section is null ? double.NaN : bottom + section.HeightMm;
        FollowAir(ticks, top, context.IdleLoadKw);

        // A drag raises the idle load from one day to the next: this cycle's own is the better one.
        var idle = _airKw >= 0.6 * context.IdleLoadKw || double.IsNaN(context.IdleLoadKw) ? _airKw : context.IdleLoadKw;
        if (double.IsNaN(idle))
            idle = context.IdleLoadKw;
        var fits = section is not null && !(_contactMm < -ToleranceAboveMm) && !(_contactMm > Math.Max(10, 0.15 * section.HeightMm));
        _usedJob = section is null || !fits ? context.JobId : "";
        if (headRead && !(_head >= _lowestMm))
            _lowestMm = _head;
        if (headRead && !(_head <= _highestMm))
            _highestMm = _head;
        return new Now(at, ticks, loadRead, headRead, idle, idle > 0 ? _load - idle : double.NaN, fits ? section : null, top, top - _head, ticks - _bladeSince < InrushTicks, context.BottomMm);
    }

    // Steady load of the running blade above the stock, or where the head goes down faster than any blade cuts.
    private void FollowAir(long ticks, double top, double learnedKw)
    {
        // Frames whose times lie close together must not make a speed of the head's noise.
        _rapid = _window.Count > 1 && _window[1].Head - _head > (RapidMmS * Seconds(ticks - _window[1].Ticks)) + (6 * _headNoise);
        if (_contact || !(_head > top + 0.5 || (_rapid && !(_head < top))) || _bladeOn == false || ticks - _bladeSince < TimeSpan.TicksPerSecond || _window.Count < 2)
            return;
        var a = _window[0].Load;
        var b = _window[1].Load;
        var mean = (a + b + _load) / 3;
        var spread = Math.Max(a, Math.Max(b, _load)) - Math.Min(a, Math.Min(b, _load));

        // The top is not known to the millimetre: a load that has risen close above it is that of the stock.
        if (_head < top + NearStockMm && mean > 1.1 * (double.IsNaN(_airKw) ? learnedKw : _airKw))
            return;
        if (mean > 0.02 * (_machine.LoadLimitKw ?? 0) && mean > 0 && spread <= 0.1 * mean)
            _airKw = double.IsNaN(_airKw) || Math.Abs(mean - _airKw) > 0.1 * _airKw ? mean : _airKw + (0.2 * (mean - _airKw));
    }

    private void FollowContact(in Now now)
    {
        if (_bladeOn == false || now.Inrush || !(now.NetKw > 0))
            return;
        if (!_contact)
        {
            if (!now.LoadRead)
                return;
            var cuts = now.NetKw >= 0.15 * now.IdleKw && !(now.DepthMm < -NearStockMm) && !_rapid && !(_highestMm - _head < LeastDescentMm);
            if (cuts && _contactReadings == 0)
                (_contactFirst, _contactAtTicks) = (now.DepthMm, now.Ticks);
            _contactReadings = cuts ? _contactReadings + 1 : 0;
            _contact = _contactReadings >= 2;
            if (!_contact)
                return;
            _contactMm = _afterGap ? double.NaN : _contactFirst;
            _netKw = now.NetKw;
        }

        // The load of the cut so far; what may be the fall of a blade that is gone does not count.
        if (_lowTicks != 0 || _highTicks != 0)
            return;
        _netKw += (now.NetKw - _netKw) * Math.Min(1, Seconds(_usualTicks) / 1.5);
        _netSum += now.NetKw;
        _netCount++;
        if (_speed > 0)
            _speedInCut = double.IsNaN(_speedInCut) ? _speed : _speedInCut + ((_speed - _speedInCut) * Math.Min(1, Seconds(_usualTicks) / 1.5));
    }

    private JobLoad? KnownJob(string job)
    {
        foreach (var known in _jobs)
        {
            if (known.JobId == job)
                return known;
        }

        return null;
    }

    /// <summary>A frame in its place.</summary>
    /// <param name="At">Its time.</param>
    /// <param name="Ticks">The same in ticks.</param>
    /// <param name="LoadRead">Whether this frame brought a load.</param>
    /// <param name="HeadRead">Whether this frame brought a head position.</param>
    /// <param name="IdleKw">Idle load, kW; NaN where not known.</param>
    /// <param name="NetKw">Load above idle, kW.</param>
    /// <param name="Section">The section, where it is known and fits what was seen; else null.</param>
    /// <param name="TopMm">Head height at the stated top of the stock, mm, or NaN.</param>
    /// <param name="DepthMm">How far below it the head is, mm, or NaN.</param>
    /// <param name="Inrush">Whether the blade may still be starting.</param>
    /// <param name="BottomMm">Head height at breakthrough, mm, or NaN.</param>
    private readonly record struct Now(
        DateTimeOffset At,
        long Ticks,
        bool LoadRead,
        bool HeadRead,
        double IdleKw,
        double NetKw,
        Section? Section,
        double TopMm,
        double DepthMm,
        bool Inrush,
        double BottomMm);
}
