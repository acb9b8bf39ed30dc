using SawEdge.Simulator.Randomness;

namespace SawEdge.Simulator.Saws;

/// <summary>
/// Motor load of one turn as the transducer gives it: the power the drive takes, through a first-order lag. It is solved on
/// a grid of its own (10 ms, begun anew with each phase), never on the sampling times, so a moment has one value
/// whoever asks, and how often.
/// </summary>
internal sealed class LoadTrace
{
    private const double GridS = 0.01;
    private const double StallRiseS = 0.15;

    private readonly MachineProfile _machine;
    private readonly NoiseModel _noise;
    private readonly NoiseField _field;
    private readonly long _driftTicks;
    private readonly double _stepDecay;
    private Turn _turn = null!;
    private double _initialKw;
    private int _phase;
    private double _gridS;
    private double _target;
    private double _lagged;
    private int _cursor;

    public LoadTrace(MachineProfile machine, NoiseModel noise, ulong seed)
    {
        _machine = machine;
        _noise = noise;
        _field = new NoiseField(seed, 11);
        _driftTicks = Turn.TicksOf(noise.DriftS);
        _stepDecay = noise.TransducerLagS > 0 ? Math.Exp(-GridS / noise.TransducerLagS) : 0;
    }

    /// <summary>Begins a turn. The transducer has settled: every turn ends, and begins, at rest for many time constants.</summary>
    public void Begin(Turn turn, double settledKw)
    {
        _turn = turn;
        _initialKw = settledKw;
        Rewind();
    }

    /// <summary>The load that the transducer settles at in the end of the turn, kW.</summary>
    public double SettledKw => TargetKw(_turn.Phases[^1], _turn.DurationS);

    /// <summary>The lagged load at a moment of the turn, kW.</summary>
    /// <param name="s">Seconds since the start of the turn.</param>
    /// <param name="phase">The phase of that moment.</param>
    public double At(double s, int phase)
    {
        if (_noise.TransducerLagS <= 0)
            return TargetKw(_turn.Phases[phase], s);
        if (phase < _phase || (phase == _phase && s < _gridS))
            Rewind();
        while (_phase < phase)
        {
            var end = _turn.Phases[_phase].ToS;
            _lagged = Advance(end);
            _phase++;
            BeginPhase();
        }

        return Advance(s);
    }

    /// <summary>Power that the drive takes, kW, before the transducer.</summary>
    private double TargetKw(in Phase phase, double s)
    {
        switch (phase.Blade)
        {
            case BladeDrive.Running:
                return phase.Cuts ? _turn.IdleKw + CuttingKw(phase, s) : _turn.IdleKw;
            case BladeDrive.Starting:
                var share = (s - phase.BladeSinceS) / _machine.BladeStartS;
                return (_turn.IdleKw * Math.Min(1, share)) + (_machine.InrushKw * Math.Exp(-3 * share));
            case BladeDrive.Broken:
                return _machine.IdleBaseKw / 2;
            case BladeDrive.Stalled:
                return _turn.StallKw + ((_turn.IdleKw - _turn.StallKw) * Math.Exp(-(s - phase.BladeSinceS) / StallRiseS));
            default:
                return 0;
        }
    }

    private double CuttingKw(in Phase phase, double s)
    {
        var net = _turn.Path!.NetKwAt(phase.PathFromS + (s - phase.FromS), ref _cursor) * _turn.Loop.FactorAt(s);
        if (_noise.DriftShare > 0)
            net *= Math.Max(0, 1 + (_noise.DriftShare * _field.Drift(_turn.Start.UtcTicks + Turn.TicksOf(s), _driftTicks)));
        return net;
    }

    private void Rewind()
    {
        _phase = 0;
        _lagged = _initialKw;
        _cursor = 0;
        BeginPhase();
    }

    private void BeginPhase()
    {
        _gridS = _turn.Phases[_phase].FromS;
        _target = TargetKw(_turn.Phases[_phase], _gridS);
    }

    /// <summary>Solves tau y' = x - y up to a moment of the present phase, x straight between grid points.</summary>
    /// <param name="s">The moment.</param>
    private double Advance(double s)
    {
        ref readonly var phase = ref _turn.Phases[_phase];
        var tau = _noise.TransducerLagS;
        if (!phase.Cuts && phase.Blade is not (BladeDrive.Starting or BladeDrive.Stalled))
            return _target + ((_lagged - _target) * Math.Exp(-(s - _gridS) / tau));

        while (_gridS + GridS <= s)
        {
            var next = TargetKw(phase, _gridS + GridS);
            _lagged = Lagged(_lagged, _target, next, GridS, _stepDecay);
            _target = next;
            _gridS += GridS;
        }

        var rest = s - _gridS;
        if (rest <= 0)
            return _lagged;
        return Lagged(_lagged, _target, TargetKw(phase, s), rest, Math.Exp(-rest / tau));
    }

    private double Lagged(double from, double targetFrom, double targetTo, double seconds, double decay)
    {
        // The exact solution for an input on a straight line from x0 to x1.
        var lagging = (targetTo - targetFrom) / seconds * _noise.TransducerLagS;
        return targetTo - lagging + ((from - targetFrom + lagging) * decay);
    }
}
