using SawEdge.Core.Blades;
using SawEdge.Core.Signals;
using SawEdge.Evaluation.Population;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Scenarios;

/// <summary>Blade changes of a saw that nobody told, and what was proposed.</summary>
/// <param name="Changes">Blade changes; 0 where the blade is mapped, since then none has to be proposed.</param>
/// <param name="Right">Those that a proposal was made for.</param>
/// <param name="Exact">Those among them where it names the very first cut with the new blade.</param>
/// <param name="Wrong">Proposals where no blade was changed, or where none was needed.</param>
internal sealed record ProposalCount(int Changes, int Right, int Exact, int Wrong);

/// <summary>Holds the blade changes that were proposed, as they stand in the end, against the true ones.</summary>
internal sealed class ProposalWatch
{
    /// <summary>A proposal is right that lies this near to a blade change, in cycles.</summary>
    public const int NearCycles = 10;

    private readonly List<(string Blade, DateTimeOffset Started)> _turns = [];

    public void OnTurn(SawTruth truth) => _turns.Add((truth.Blade, truth.Started));

    public ProposalCount Count(IReadOnlyList<BladeAccount> blades, Mapping mapping)
    {
        // Half a second: the record's times are rounded, and a cycle is found between two frames.
        var proposed = blades.Where(blade => blade.Origin == BladeOrigin.Proposed)
            .Select(blade => _turns.FindLastIndex(turn => turn.Started <= blade.FirstCutAt.AddSeconds(0.5))).ToList();
        if (mapping.Has(Signal.BladeId))
            return new(0, 0, 0, proposed.Count);

        int changes = 0, right = 0, exact = 0;
        for (var i = 1; i < _turns.Count; i++)
        {
            if (_turns[i].Blade == _turns[i - 1].Blade)
                continue;
            changes++;
            var near = proposed.FindIndex(at => Math.Abs(at - i) <= NearCycles);
            if (near < 0)
                continue;
            right++;
            if (proposed[near] == i)
                exact++;
            proposed.RemoveAt(near);
        }

        return new(changes, right, exact, proposed.Count);
    }
}
