using SawEdge.Core.Signals;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Randomness;

namespace SawEdge.Simulator.Saws;

/// <summary>
/// A virtual saw: plays turn after turn (a wait, a cycle, what it takes to recover), gives its signals at any moment, and
/// states what really happened. A pure state machine: it knows no clock, and no thread but its caller's. What a moment
/// looks like does not depend on which other moments were asked for. Times must not go back beyond the present turn.
/// </summary>
public sealed class VirtualSaw
{
    private readonly VirtualSawOptions _options;
    private readonly TurnPlanner _planner;
    private readonly LoadTrace _load;
    private readonly List<Fault> _faults;
    private readonly bool[] _has = new bool[SignalInfo.Count];
    private readonly NoiseField _headNoise;
    private readonly NoiseField _loadNoise;
    private readonly NoiseField _speedNoise;
    private readonly NoiseField _deviationNoise;
    private readonly List<SawTruth> _finished = [];
    private readonly List<(Stuck Stuck, SignalFrame Frame)> _stuck = [];
    private Turn _turn;
    private int _phase;
    private int _cursor;

    /// <summary>Sets a saw up at its start.</summary>
    /// <exception cref="ArgumentException">The options cannot be; the message lists every mistake.</exception>
    public VirtualSaw(VirtualSawOptions options)
    {
        options.Validate();
        _options = options;
        _faults = [.. options.Faults];
        foreach (var info in SignalInfo.All)
            _has[(int)info.Signal] = options.Signals?.Contains(info.Signal) ?? true;
        _headNoise = new(options.Seed, 1);
        _loadNoise = new(options.Seed, 2);
        _speedNoise = new(options.Seed, 3);
        _deviationNoise = new(options.Seed, 4);
        _planner = new TurnPlanner(options);
        _load = new LoadTrace(options.Machine, options.Noise, options.Seed);
        _turn = _planner.Next(_faults);
        _load.Begin(_turn, 0);
        TakeStuck();
    }

    /// <summary>Name of the saw.</summary>
    public string Name => _options.Machine.Name;

    /// <summary>The machine.</summary>
    public MachineProfile Machine => _options.Machine;

    /// <summary>When the present turn began: its wait.</summary>
    public DateTimeOffset TurnStart => _turn.Start;

    /// <summary>When the present turn ends and the next one begins.</summary>
    public DateTimeOffset TurnEnd => _turn.End;

    /// <summary>The truth of the present turn's cycle, which may still lie ahead.</summary>
    public SawTruth Truth => _turn.Truth;

    /// <summary>Switches a fault on from the next turn on.</summary>
    /// <exception cref="ArgumentException">One of its figures cannot be.</exception>
    public void SwitchOn(Fault fault)
    {
        if (fault.Mistake is { } mistake)
            throw new ArgumentException(mistake, nameof(fault));
        _faults.Add(fault);
    }

    /// <summary>Switches a fault off from the next turn on.</summary>
    /// <returns>Whether it was switched on.</returns>
    public bool SwitchOff(Fault fault)
    {
        _stuck.RemoveAll(stuck => ReferenceEquals(stuck.Stuck.Cause, fault));
        return _faults.Remove(fault);
    }

    /// <summary>The operator changes the blade before the next turn, however little it has cut.</summary>
    public void ChangeBlade() => _planner.ChangeBlade();

    /// <summary>Goes on to the next turn; what is left of the present one is not played.</summary>
    public void NextTurn()
    {
        _finished.Add(_turn.Truth);
        var settled = _load.SettledKw;
        _turn = _planner.Next(_faults);
        _load.Begin(_turn, settled);
        (_phase, _cursor) = (0, 0);
        _stuck.RemoveAll(stuck => _turn.Truth.Cycle >= stuck.Stuck.FirstCycle + stuck.Stuck.Cause.When.Cycles);
        TakeStuck();
    }

    /// <summary>Goes on to the turn in which a moment lies.</summary>
    /// <exception cref="ArgumentOutOfRangeException">It lies before the present turn.</exception>
    public void AdvanceTo(DateTimeOffset time)
    {
        if (time < _turn.Start)
            throw new ArgumentOutOfRangeException(nameof(time), time, $"{Name} has gone on to the turn that began at {_turn.Start:O}; time cannot go back before it.");
        while (time >= _turn.End)
            NextTurn();
    }

    /// <summary>The truth of the cycles whose turns are over since the last call.</summary>
    public IReadOnlyList<SawTruth> TakeFinished()
    {
        SawTruth[] finished = [.. _finished];
        _finished.Clear();
        return finished;
    }

    /// <summary>All signals at a moment.</summary>
    /// <param name="time">The moment; goes on to its turn.</param>
    /// <param name="frame">The signals that this saw has, all of good quality.</param>
    /// <returns>False where the controller does not answer at that moment.</returns>
    /// <exception cref="ArgumentOutOfRangeException">The moment lies before the present turn.</exception>
    public bool TrySample(DateTimeOffset time, out SignalFrame frame)
    {
        AdvanceTo(time);
        frame = new SignalFrame(time);
        var ticks = time.UtcTicks;
        var s = _turn.SecondsAt(ticks);
        if (_turn.IsOffline(s))
            return false;
        Read(ref frame, ticks, s);
        foreach (var (stuck, kept) in _stuck)
        {
            if (_turn.Truth.Cycle > stuck.FirstCycle || s >= stuck.FromS)
                Keep(ref frame, kept, stuck.Signal);
        }

        return true;
    }

    /// <summary>What a reading without noise and rounding would give at a moment of the present turn; the lag of the transducer stays.</summary>
    /// <param name="time">The moment.</param>
    /// <returns>Head position, mm, and motor load, kW.</returns>
    /// <exception cref="ArgumentOutOfRangeException">The moment lies outside the present turn.</exception>
    public (double HeadMm, double LoadKw) ExactAt(DateTimeOffset time)
    {
        if (time < _turn.Start || time >= _turn.End)
            throw new ArgumentOutOfRangeException(nameof(time), time, $"{Name} is in the turn from {_turn.Start:O} to {_turn.End:O}.");
        var s = _turn.SecondsAt(time.UtcTicks);
        var index = PhaseAt(s);
        return (HeadMm(_turn.Phases[index], s), _load.At(s, index));
    }

    // Divided by the reciprocal where that is whole: 123 / 10 is the double nearest to 12.3, 123 * 0.1 is not.
    private static double Rounded(double value, double step)
    {
        if (step <= 0)
            return value;
        var reciprocal = Math.Round(1 / step);
        return Math.Abs((reciprocal * step) - 1) < 1e-9 ? Math.Round(value * reciprocal) / reciprocal : Math.Round(value / step) * step;
    }

    private static void Keep(ref SignalFrame frame, in SignalFrame kept, Signal signal)
    {
        if (!kept.Has(signal))
            return;
        if (SignalInfo.IsNumeric(signal))
            frame.Set(signal, kept.Number(signal));
        else
            frame.Set(signal, kept.Text(signal));
    }

    /// <summary>Reads off what the newly stuck signals will keep showing.</summary>
    private void TakeStuck()
    {
        foreach (var stuck in _turn.Stuck)
        {
            var ticks = _turn.Start.UtcTicks + Turn.TicksOf(stuck.FromS);
            var kept = new SignalFrame(new DateTimeOffset(ticks, TimeSpan.Zero));
            Read(ref kept, ticks, stuck.FromS);
            _stuck.Add((stuck, kept));
        }
    }

    private int PhaseAt(double s)
    {
        var phases = _turn.Phases;
        if (phases[_phase].FromS > s)
            _phase = 0;
        while (_phase < phases.Length - 1 && phases[_phase].ToS <= s)
            _phase++;
        return _phase;
    }

    private void Read(ref SignalFrame frame, long ticks, double s)
    {
        var index = PhaseAt(s);
        ref readonly var phase = ref _turn.Phases[index];
        var noise = _options.Noise;
        if (_has[(int)Signal.HeadPosition])
            frame.Set(Signal.HeadPosition, Rounded(HeadMm(phase, s) + (noise.HeadMm * _headNoise.White(ticks)), noise.HeadStepMm));
        if (_has[(int)Signal.MotorLoad])
            frame.Set(Signal.MotorLoad, LoadKw(phase, index, ticks, s));
        if (_has[(int)Signal.BladeSpeed])
            frame.Set(Signal.BladeSpeed, SpeedMMin(phase, ticks, s));
        if (_has[(int)Signal.CycleActive])
            frame.Set(Signal.CycleActive, phase.CycleActive);
        if (_has[(int)Signal.Cutting])
            frame.Set(Signal.Cutting, phase.Cutting);
        if (_has[(int)Signal.BladeRunning])
            frame.Set(Signal.BladeRunning, phase.Blade is not (BladeDrive.Stopped or BladeDrive.Stopping));
        if (_has[(int)Signal.FaultCode])
            frame.Set(Signal.FaultCode, phase.FaultCode);
        if (_has[(int)Signal.PartCount])
            frame.Set(Signal.PartCount, _turn.CountAt(ticks));
        if (_has[(int)Signal.ScrapCount])
            frame.Set(Signal.ScrapCount, _turn.Scrap);
        if (_has[(int)Signal.BladeDeviation])
            frame.Set(Signal.BladeDeviation, DeviationMm(phase, ticks));
        var texts = s >= _turn.TextsAtS ? _turn.TextsAfter : _turn.TextsBefore;
        if (_has[(int)Signal.Mode])
            frame.Set(Signal.Mode, phase.Manual ? "manual" : "automatic");
        if (_has[(int)Signal.Job])
            frame.Set(Signal.Job, texts.Job);
        if (_has[(int)Signal.BarId])
            frame.Set(Signal.BarId, texts.Bar);
        if (_has[(int)Signal.BladeId])
            frame.Set(Signal.BladeId, texts.Blade);
    }

    private double HeadMm(in Phase phase, double s)
    {
        if (phase.FollowsPath)
            return _turn.StockHeightMm - _turn.Path!.DepthAt(phase.PathFromS + (s - phase.FromS), ref _cursor);
        return phase.HeadFromMm + ((phase.HeadToMm - phase.HeadFromMm) * ((s - phase.FromS) / phase.DurationS));
    }

    private double LoadKw(in Phase phase, int index, long ticks, double s)
    {
        var noise = _options.Noise;
        var load = _load.At(s, index);
        var cutting = phase.Cuts ? Math.Max(0, load - _turn.IdleKw) : 0;
        load += (noise.LoadKw + (noise.LoadShare * cutting)) * _loadNoise.White(ticks);
        return Rounded(Math.Max(0, load), noise.LoadStepKw);
    }

    private double SpeedMMin(in Phase phase, long ticks, double s)
    {
        var share = phase.Blade switch
        {
            BladeDrive.Running or BladeDrive.Broken => 1,
            BladeDrive.Starting => Math.Min(1, (s - phase.BladeSinceS) / _options.Machine.BladeStartS),
            BladeDrive.Stopping => Math.Max(0, 1 - ((s - phase.BladeSinceS) / PhaseList.RunOutS)),
            BladeDrive.Stalled => Math.Max(0, 1 - ((s - phase.BladeSinceS) / 0.4)),
            _ => 0,
        };
        if (share == 0)
            return 0;
        var noise = _options.Noise;
        return Rounded(Math.Max(0, (share * _turn.BladeSpeedMMin) + (noise.SpeedMMin * _speedNoise.White(ticks))), noise.SpeedStepMMin);
    }

    // A worn blade wanders more. The size is invented: a few hundredths of a millimetre.
    private double DeviationMm(in Phase phase, long ticks) =>
        phase.Cuts ? Rounded(0.03 * _turn.WearFactor * _turn.WearFactor * _deviationNoise.Drift(ticks, 5 * TimeSpan.TicksPerSecond), 0.001) : 0;
}
