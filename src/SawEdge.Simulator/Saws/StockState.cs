using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Simulator.Randomness;

namespace SawEdge.Simulator.Saws;

/// <summary>Where a saw stands in its jobs, bars and blades.</summary>
internal sealed class StockState
{
    private const ulong BarStream = 2;
    private const ulong BladeStream = 3;
    private const ulong BladeForceStream = 5;

    private readonly VirtualSawOptions _options;
    private int _job;
    private int _partsOfJob;
    private long _bar;
    private double _barLeftMm;
    private long _blade;
    private double _lifeM2;
    private bool _changeBlade;

    public StockState(VirtualSawOptions options)
    {
        _options = options;
        NewBlade();
        BladeAreaM2 = options.Blade.StartAreaM2;
    }

    public VirtualJob Job => _options.Jobs[_job];

    public string Bar => _bar == 0 ? "" : string.Create(CultureInfo.InvariantCulture, $"{_options.IdPrefix}BAR{_bar:00000}");

    public string Blade => string.Create(CultureInfo.InvariantCulture, $"{_options.IdPrefix}BL{_blade:000}");

    public double BladeAreaM2 { get; private set; }

    public double LifeUsed => BladeAreaM2 / _lifeM2;

    public bool TrimDue { get; private set; }

    /// <summary>Factor of this bar on cutting force.</summary>
    public double BarForce { get; private set; } = 1;

    /// <summary>Factor of this blade on cutting force, as it was when new.</summary>
    public double BladeForce { get; private set; } = 1;

    /// <summary>Whether the next cut is the first of its bar.</summary>
    public bool BarIsNew { get; private set; }

    /// <summary>How far the bar is moved for the next cut, mm.</summary>
    public double NextLengthMm => TrimDue ? Job.TrimLengthMm : Job.PartLengthMm;

    /// <summary>The blade is changed before the next cycle, however little it has cut.</summary>
    public void ChangeBlade() => _changeBlade = true;

    /// <summary>Changes job, blade and bar where that is due.</summary>
    /// <returns>How long it takes, s.</returns>
    public double SetUp()
    {
        double seconds = 0;
        if (_partsOfJob >= Job.Quantity)
        {
            _job = (_job + 1) % _options.Jobs.Count;
            _partsOfJob = 0;
            _barLeftMm = 0;
            seconds += _options.Work.JobChangeS;
        }

        if (_changeBlade || LifeUsed >= _options.Blade.ChangeAtLife)
        {
            NewBlade();
            seconds += _options.Work.BladeChangeS;
        }

        if (_barLeftMm < Job.PartLengthMm + _options.Machine.KerfMm + Job.RemnantMm)
        {
            // The bar that lies in the saw at the start was not set up here.
            if (_bar > 0)
                seconds += _options.Work.BarChangeS;
            _bar++;
            BarIsNew = true;
            _barLeftMm = Job.BarLengthMm;
            TrimDue = Job.TrimLengthMm > 0;
            BarForce = new Xoshiro256(_options.Seed, BarStream, (ulong)_bar).LogNormal(_options.Noise.BarSigma);
        }

        return seconds;
    }

    /// <summary>Takes a cycle as done.</summary>
    public void Take(SawTruth truth)
    {
        BladeAreaM2 = truth.BladeAreaM2;
        _changeBlade = truth.BladeLost is not null;
        // Without stock, and after a notch, the bar is as long as before.
        if (truth.Outcome is null or CutOutcome.Partial)
            return;
        _barLeftMm -= NextLengthMm + _options.Machine.KerfMm;
        if (truth.Outcome == CutOutcome.Completed)
            _partsOfJob++;
        TrimDue = false;
        BarIsNew = false;
    }

    private void NewBlade()
    {
        _blade++;
        BladeAreaM2 = 0;
        _changeBlade = false;
        _lifeM2 = _options.Blade.LifeM2 * new Xoshiro256(_options.Seed, BladeStream, (ulong)_blade).LogNormal(_options.Blade.LifeSigma);
        BladeForce = new Xoshiro256(_options.Seed, BladeForceStream, (ulong)_blade).LogNormal(_options.Blade.EnergySigma);
    }
}
