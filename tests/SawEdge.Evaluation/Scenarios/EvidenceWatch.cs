using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Scenarios;

/// <summary>
/// Says from which frame on a live event can be seen at all: what the transducer still hides cannot be called. Looks at
/// head and load without measuring noise.
/// </summary>
/// <remarks>
/// Blade break: load at or below idle and 15 % of the net load before, and the head 0.3 mm further than at the break.
/// Stall: load above rated power, and the head at the same place as in the frame before.
/// </remarks>
internal sealed class EvidenceWatch
{
    private const double NetShareLeft = 0.15;
    private const double FurtherMm = 0.3;

    private DateTimeOffset _ended;
    private double _limitKw;
    private double _headMm;
    private DateTimeOffset? _lastFrame;

    /// <summary>Begins a cycle of an episode.</summary>
    public void OnTurn(VirtualSaw saw, SawTruth truth, Episode episode)
    {
        episode.Moment = episode.Cell.Fault switch
        {
            "blade_break" => truth.BladeLost,
            "stall" => truth.Left,
            _ => null,
        };
        _lastFrame = null;
        _ended = truth.Ended;
        if (episode.Moment is not { } moment)
            return;
        (_headMm, var load) = saw.ExactAt(moment);
        _limitKw = truth.BladeLost is null ? saw.Machine.RatedPowerKw : truth.IdleKw + (NetShareLeft * (load - truth.IdleKw));
    }

    /// <summary>Takes a frame of such a cycle.</summary>
    public void OnFrame(VirtualSaw saw, long number, DateTimeOffset time, Episode episode)
    {
        if (episode.Moment is not { } moment || episode.EvidenceFrame is not null || time < moment || time >= _ended)
            return;
        var (head, load) = saw.ExactAt(time);
        var isThere = episode.Cell.Fault == "stall" ? load > _limitKw && _lastFrame is not null : load <= _limitKw && head <= _headMm - FurtherMm;
        if (isThere)
            episode.EvidenceFrame = number;
        _lastFrame = time;
    }
}
