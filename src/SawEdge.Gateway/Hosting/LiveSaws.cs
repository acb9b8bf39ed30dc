using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Hosting;

/// <summary>What the saws of a gateway do at the moment, for the API.</summary>
/// <param name="saws">Names of the saws.</param>
/// <param name="machine">The machine clock.</param>
internal sealed class LiveSaws(IEnumerable<string> saws, TimeProvider machine) : ILiveSource
{
    private readonly Dictionary<string, LiveSaw> _saws = saws.ToDictionary(saw => saw, _ => new LiveSaw(machine), StringComparer.Ordinal);

    /// <summary>Where the loop of a saw shows what it does.</summary>
    public LiveSaw Of(string saw) => _saws[saw];

    /// <inheritdoc/>
    public SawMoment Read(string saw) => _saws[saw].Read();

    /// <inheritdoc/>
    public IReadOnlyList<BladeAccount> Blades(string saw) => _saws[saw].Blades;
}
