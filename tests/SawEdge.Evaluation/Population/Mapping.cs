using SawEdge.Core.Signals;

namespace SawEdge.Evaluation.Population;

/// <summary>Which signals of a saw are mapped.</summary>
/// <param name="Name">Its words in the tables.</param>
/// <param name="Weight">How many of a hundred saws are mapped like this.</param>
/// <param name="Signals">The signals.</param>
internal sealed record Mapping(string Name, int Weight, IReadOnlySet<Signal> Signals)
{
    /// <summary>All that can be mapped. The weights are a choice, no source.</summary>
    public static readonly IReadOnlyList<Mapping> All =
    [
        new("everything", 35, Every()),
        new("no blade speed", 15, Every(Signal.BladeSpeed)),
        new("no bar or blade id", 20, Every(Signal.BarId, Signal.BladeId)),
        new("cutting, load, job", 10, new HashSet<Signal> { Signal.Cutting, Signal.MotorLoad, Signal.Job }),
        new("head, load", 10, new HashSet<Signal> { Signal.HeadPosition, Signal.MotorLoad }),
        new("cycle, load", 10, new HashSet<Signal> { Signal.CycleActive, Signal.MotorLoad }),
    ];

    public bool Has(Signal signal) => Signals.Contains(signal);

    /// <summary>Whether depth and section are both known: the saw is well mapped.</summary>
    public bool IsFull => Has(Signal.HeadPosition) && Has(Signal.Job);

    private static HashSet<Signal> Every(params Signal[] but) => [.. SignalInfo.All.Select(info => info.Signal).Except(but)];
}
