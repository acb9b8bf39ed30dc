using SawEdge.Core;
using SawEdge.Core.Blades;

namespace SawEdge.Gateway.Api;

/// <summary>What the saws do at the moment, handed in by those who run them. Safe for any number of threads.</summary>
public interface ILiveSource
{
    /// <summary>What a saw does; <see cref="SawMoment.Nothing"/> before its first frame.</summary>
    /// <param name="saw">Name of a configured saw.</param>
    SawMoment Read(string saw);

    /// <summary>The blades of a saw, the latest last, as of its last finished cut.</summary>
    /// <param name="saw">Name of a configured saw.</param>
    IReadOnlyList<BladeAccount> Blades(string saw);
}
