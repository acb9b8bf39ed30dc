namespace SawEdge.Simulator.Saws;

/// <summary>What blurs a saw's signals and scatters its cuts. Every figure can be 0; <see cref="None"/> has them all at 0.</summary>
public sealed record NoiseModel
{
    /// <summary>Nothing scatters, nothing is rounded, the transducer is instant.</summary>
    public static NoiseModel None { get; } = new()
    {
        LoadKw = 0,
        LoadShare = 0,
        DriftShare = 0,
        HeadMm = 0,
        HeadStepMm = 0,
        LoadStepKw = 0,
        SpeedMMin = 0,
        SpeedStepMMin = 0,
        TransducerLagS = 0,
        BarSigma = 0,
        CutSigma = 0,
        PaceSigma = 0,
        HandlingSigma = 0,
    };

    /// <summary>White noise of the load signal, kW, standard deviation.</summary>
    public double LoadKw { get; init; } = 0.012;

    /// <summary>White noise of the load signal that grows with the cutting power, as a share of it.</summary>
    public double LoadShare { get; init; } = 0.03;

    /// <summary>Slow drift of the cutting power within a cut, as a share, standard deviation.</summary>
    public double DriftShare { get; init; } = 0.02;

    /// <summary>Distance of independent drift values, s.</summary>
    public double DriftS { get; init; } = 4;

    /// <summary>Noise of the head position, mm, standard deviation.</summary>
    public double HeadMm { get; init; } = 0.03;

    /// <summary>Step of the head position, mm; 0: none.</summary>
    public double HeadStepMm { get; init; } = 0.1;

    /// <summary>Step of the load signal, kW; 0: none.</summary>
    public double LoadStepKw { get; init; } = 0.001;

    /// <summary>Noise of the blade speed, m/min, standard deviation.</summary>
    public double SpeedMMin { get; init; } = 0.15;

    /// <summary>Step of the blade speed, m/min; 0: none.</summary>
    public double SpeedStepMMin { get; init; } = 0.1;

    /// <summary>Time constant of the power transducer, s: a first-order lag; 0: none.</summary>
    public double TransducerLagS { get; init; } = 0.25;

    /// <summary>Scatter of specific energy from bar to bar, standard deviation of the logarithm.</summary>
    public double BarSigma { get; init; } = 0.025;

    /// <summary>Scatter of specific energy from cut to cut, standard deviation of the logarithm.</summary>
    public double CutSigma { get; init; } = 0.012;

    /// <summary>Scatter of the cutting rate from cut to cut, standard deviation of the logarithm.</summary>
    public double PaceSigma { get; init; } = 0.012;

    /// <summary>Scatter of the idle power from cycle to cycle, standard deviation of the logarithm.</summary>
    public double IdleSigma { get; init; }

    /// <summary>Rise of the idle power while gearbox and hydraulics are cold, as a share; it fades as the saw runs.</summary>
    public double ColdIdleShare { get; init; }

    /// <summary>Time constant with which a running saw gets warm, s. Common practice, no source.</summary>
    public double WarmUpS { get; init; } = 1800;

    /// <summary>Time constant with which a waiting saw gets cold again, s. Common practice, no source.</summary>
    public double CoolDownS { get; init; } = 7200;

    /// <summary>Scatter of the handling times, standard deviation of the logarithm.</summary>
    public double HandlingSigma { get; init; } = 0.03;
}
