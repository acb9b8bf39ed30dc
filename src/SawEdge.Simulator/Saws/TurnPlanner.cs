using SawEdge.Core.Cycles;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Randomness;

namespace SawEdge.Simulator.Saws;

/// <summary>
/// Knows where a saw stands in its jobs, bars and blades, and plans one turn after the other. Each turn, bar and blade
/// draws from a stream of its own, so that a fault that is switched on changes nothing but what it touches.
/// </summary>
internal sealed class TurnPlanner
{
    private const ulong TurnStream = 1;
    private const ulong LoopStream = 4;
    private const ulong IdleStream = 6;

    // A wait as short as this is part of an automatic run.
    private const double RunPauseS = 20;

    private readonly VirtualSawOptions _options;
    private readonly StockState _stock;
    private readonly Dictionary<Fault, long> _ages = new(ReferenceEqualityComparer.Instance);
    private readonly Dictionary<Fault, string> _bars = new(ReferenceEqualityComparer.Instance);
    private readonly List<CountStep> _counts;
    private DateTimeOffset _now;
    private long _cycle;
    private BladeDrive _drive = BladeDrive.Stopped;
    private bool _running;
    private long _scrap;

    // How cold the saw is: 1 after a night, 0 once it has run for hours.
    private double _cold = 1;
    private ControllerTexts _texts;

    public TurnPlanner(VirtualSawOptions options)
    {
        _options = options;
        _stock = new StockState(options);
        _now = options.Start.ToUniversalTime();
        _counts = [new(long.MinValue, options.Machine.CounterStart)];
        _texts = new(_stock.Job.Id, _stock.Bar, _stock.Blade);
    }

    private VirtualJob Job => _stock.Job;

    /// <summary>The operator changes the blade before the next turn.</summary>
    public void ChangeBlade() => _stock.ChangeBlade();

    /// <summary>Plans the next turn and takes it as done.</summary>
    /// <param name="faults">The faults that are switched on.</param>
    public Turn Next(IReadOnlyList<Fault> faults)
    {
        _cycle++;
        var random = new Xoshiro256(_options.Seed, TurnStream, (ulong)_cycle);
        var before = _texts;
        var setUp = _stock.SetUp();
        var wait = Wait(random) + setUp;
        var begin = _options.Work.NextWorking(_now.AddTicks(Turn.TicksOf(wait)));
        wait = (begin - _now).TotalSeconds;
        var effects = CycleEffects.Of(TakeActive(faults, begin), Job);
        _texts = new(effects.ControllerJob, _stock.Bar, _stock.Blade);

        var phases = new PhaseList(_options.Machine, _options.Machine.RestHeightMm, _drive)
        {
            Manual = setUp > 0,
            CycleActive = _options.Machine.CycleActiveInRun && _running && setUp == 0 && wait < RunPauseS && effects.RestartBefore is null,
        };
        var (offlineFrom, offlineTo) = LayWait(phases, wait, effects.RestartBefore);
        phases.Manual = false;

        _cold = 1 - ((1 - _cold) * Math.Exp(-wait / _options.Noise.CoolDownS));
        var idle = (_options.Machine.IdleKw(Job.BladeSpeedMMin) * (1 + (_options.Noise.ColdIdleShare * _cold)) * new Xoshiro256(_options.Seed, IdleStream, (ulong)_cycle).LogNormal(_options.Noise.IdleSigma))
            + effects.ExtraIdleKw;
        var wear = _options.Blade.WearFactor(_stock.LifeUsed) * effects.Force;
        var height = Job.Section.HeightMm;
        var conditions = Conditions(effects, wear, random);
        var path = effects.WithoutStock
            ? null
            : new CutPath(conditions, effects.Holds.Select(hold => hold.DepthShare * height).Append(effects.EndingShare * height));

        var cycleStart = phases.NowS;
        var trim = _stock.TrimDue && !effects.WithoutStock;
        var handling = random.LogNormal(_options.Noise.HandlingSigma);
        var cycle = new CyclePhases(_options.Machine, phases, effects, height, Job.BladeSpeedMMin);
        cycle.Lay(path, _stock.NextLengthMm, trim, handling);
        if (!double.IsNaN(cycle.OfflineFromS))
            (offlineFrom, offlineTo) = (cycle.OfflineFromS, cycle.OfflineToS);
        Count(cycle, offlineFrom);

        var loop = new LoopGap(
            effects.Teeth?.LoopShare ?? 0,
            effects.Teeth?.Strength ?? 0,
            Job.BladeSpeedMMin * 1000 / 60 / _options.Machine.BladeLengthMm,
            new Xoshiro256(_options.Seed, LoopStream, (ulong)_cycle).Uniform());
        var turn = new Turn
        {
            Start = _now,
            Phases = phases.ToArray(),
            CycleStartS = cycleStart,
            CycleEndS = cycle.EndS,
            Path = path,
            StockHeightMm = height,
            BladeSpeedMMin = Job.BladeSpeedMMin,
            IdleKw = idle,
            StallKw = effects.Ending is Stall stall ? stall.RatedShare * _options.Machine.RatedPowerKw : 0,
            Loop = loop,
            Counts = [.. _counts],
            Scrap = _scrap,
            TextsBefore = before,
            TextsAfter = _texts,
            TextsAtS = cycleStart * 0.8,
            OfflineFromS = offlineFrom,
            OfflineToS = offlineTo,
            Stuck = [.. effects.NewlyStuck.Select(stuck => new Stuck(stuck.Signal, _cycle, cycleStart + (stuck.CycleShare * (cycle.EndS - cycleStart)), stuck))],
            WearFactor = wear,
            Truth = TruthOf(cycle, effects, cycleStart, wear, path) with { IdleKw = idle, BladeFactor = _stock.BladeForce },
        };

        _cold *= Math.Exp(-(turn.DurationS - cycleStart) / _options.Noise.WarmUpS);
        _drive = phases.Blade == BladeDrive.Running ? BladeDrive.Running : BladeDrive.Stopped;
        TakeAsDone(turn);
        return turn;
    }

    private SawTruth TruthOf(CyclePhases cycle, CycleEffects effects, double cycleStartS, double wear, CutPath? path)
    {
        DateTimeOffset At(double s) => _now.AddTicks(Turn.TicksOf(s));
        DateTimeOffset? AtOrNull(double s) => double.IsNaN(s) ? null : At(s);
        var area = effects.WithoutStock ? 0 : Job.Section.AreaBetweenCm2(0, cycle.DepthMm);
        return new SawTruth
        {
            Saw = _options.Machine.Name,
            Cycle = _cycle,
            Started = At(cycleStartS),
            Contact = AtOrNull(cycle.ContactS),
            Breakthrough = AtOrNull(cycle.BreakthroughS),
            Left = AtOrNull(cycle.LeftS),
            BladeLost = AtOrNull(cycle.BladeLostS),
            Raised = AtOrNull(cycle.RaisedS),
            Ended = At(cycle.EndS),
            Outcome = cycle.Outcome,
            DepthMm = cycle.DepthMm,
            Holds = [.. cycle.Holds.Select(hold => new HoldTruth(At(hold.FromS), hold.DurationS))],
            PartCount = _counts[^1].Value,
            Job = Job,
            ControllerJob = effects.ControllerJob,
            Material = effects.Material,
            Bar = _stock.Bar,
            Blade = _stock.Blade,
            BladeAreaM2 = _stock.BladeAreaM2 + (area / 10_000),
            BladeLifeUsed = _stock.LifeUsed,
            WearFactor = wear,
            CutAreaCm2 = area,
            EnergyKj = path?.EnergyAtKj(cycle.CutPathS) ?? 0,
            Faults = effects.Names,
        };
    }

    private CutConditions Conditions(CycleEffects effects, double wear, Xoshiro256 random)
    {
        var (machine, noise) = (_options.Machine, _options.Noise);
        // Drawn one after the other whatever the cycle is, so that the stream keeps its order.
        var cutForce = random.LogNormal(noise.CutSigma);
        var pace = random.LogNormal(noise.PaceSigma);
        var force = wear * _stock.BladeForce * _stock.BarForce * cutForce;
        var harder = effects.Material.Kc(0.01) / Job.Material.Kc(0.01);
        var yielded = Math.Pow(force * harder, -_options.Blade.FeedYield);
        HardZone? zone = effects.HardSpot is { } spot
            ? new(
                (spot.DepthShare * Job.Section.HeightMm) - (spot.HeightMm / 2),
                (spot.DepthShare * Job.Section.HeightMm) + (spot.HeightMm / 2),
                1 + spot.Rise,
                Math.Pow(1 + spot.Rise, -_options.Blade.FeedYield))
            : null;
        return new CutConditions
        {
            Section = Job.Section,
            Material = effects.Material,
            RateCm2Min = Job.RateCm2Min * _options.Blade.BreakInFactor(_stock.BladeAreaM2) * pace * yielded * effects.Rate,
            DescentCapMmMin = Math.Min(machine.MaximumDescentMmMin, machine.MaximumFeedPerToothMm * 1000 * Job.BladeSpeedMMin / machine.ToothPitchMm) * effects.Rate,
            BladeSpeedMMin = Job.BladeSpeedMMin,
            ToothPitchMm = machine.ToothPitchMm,
            KerfMm = machine.KerfMm,
            Efficiency = machine.DriveEfficiency,
            EnergyFactor = force,
            HardZone = zone,
            LooseZone = effects.LooseStock is { } loose
                ? new((loose.DepthShare * Job.Section.HeightMm) - (loose.HeightMm / 2), (loose.DepthShare * Job.Section.HeightMm) + (loose.HeightMm / 2), loose.WaveMm, loose.Swing)
                : null,
        };
    }

    private double Wait(Xoshiro256 random)
    {
        var work = _options.Work;
        var usual = work.LeastWaitS + random.Exponential(work.ExtraWaitS);
        var stops = random.Uniform() < work.StopChance;
        var stop = 20 + random.Exponential(Math.Max(0, work.StopS - 20));
        return usual + (stops ? stop : 0);
    }

    /// <summary>Lays the wait down; in a long one the blade is switched off.</summary>
    /// <returns>When the controller does not answer, s.</returns>
    private static (double FromS, double ToS) LayWait(PhaseList phases, double waitS, ControllerRestart? restart)
    {
        const double SwitchedOffAfterS = 15;
        if (restart is not null)
        {
            // Power gone in the middle of the wait, which lasts longer for it.
            phases.Stay(waitS / 2);
            var from = phases.NowS;
            phases.StopBlade();
            phases.Stay(restart.DownS + (waitS / 2));
            return (from, from + restart.DownS);
        }

        if (waitS > 2 * SwitchedOffAfterS && phases.Blade == BladeDrive.Running)
        {
            phases.Stay(SwitchedOffAfterS);
            phases.StopBlade();
            waitS -= SwitchedOffAfterS;
        }

        phases.Stay(waitS);
        return (double.NaN, double.NaN);
    }

    private List<ActiveFault> TakeActive(IReadOnlyList<Fault> faults, DateTimeOffset begin)
    {
        var active = new List<ActiveFault>();
        foreach (var fault in faults)
        {
            var age = _ages.GetValueOrDefault(fault);
            if (!fault.When.HasBegun(_cycle, begin) || age >= fault.When.Cycles || (fault.When.OneBar && !HoldsOnBar(fault)))
                continue;
            active.Add(new(fault, age));
            _ages[fault] = age + 1;
        }

        return active;
    }

    // A fault of one bar waits for the first cut of a bar, and goes with it.
    private bool HoldsOnBar(Fault fault)
    {
        if (_bars.TryGetValue(fault, out var bar))
            return bar == _stock.Bar;
        if (!_stock.BarIsNew)
            return false;
        _bars[fault] = _stock.Bar;
        return true;
    }

    private void Count(CyclePhases cycle, double offlineFromS)
    {
        long TicksAt(double s) => _now.UtcTicks + Turn.TicksOf(s);
        // Only the last step before this turn, and what comes after it, matters from here on.
        while (_counts.Count > 1 && _counts[1].Ticks <= _now.UtcTicks)
            _counts.RemoveAt(0);
        if (!double.IsNaN(offlineFromS))
        {
            // Whatever was still to be counted is forgotten with the rest.
            _counts.RemoveAll(step => step.Ticks > TicksAt(offlineFromS));
            _counts.Add(new(TicksAt(offlineFromS), 0));
        }

        if (!double.IsNaN(cycle.CountS))
            _counts.Add(new(TicksAt(cycle.CountS + _options.Machine.CountDelayS), (_counts[^1].Value + 1) % _options.Machine.CounterLimit));
    }

    private void TakeAsDone(Turn turn)
    {
        _now = turn.End;
        _running = turn.Truth.Outcome is CutOutcome.Completed or CutOutcome.Trim;
        if (turn.Truth.Outcome == CutOutcome.Aborted)
            _scrap++;
        _stock.Take(turn.Truth);
    }
}
