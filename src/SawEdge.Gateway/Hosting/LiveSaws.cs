using System.Collections.Concurrent;
using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Api;
using SawEdge.Gateway.Processing;

namespace SawEdge.Gateway.Hosting;

/// <summary>What the saws of a gateway do at the moment, for the API.</summary>
/// <param name="saws">Names of the saws.</param>
/// <param name="machine">The machine clock.</param>
internal sealed class LiveSaws(IEnumerable<string> saws, TimeProvider machine) : ILiveSource
{
    private readonly ConcurrentDictionary<string, SawLive> _saws = new(saws.Select(saw => KeyValuePair.Create(saw, new SawLive(machine))), StringComparer.Ordinal);

    /// <summary>Where the loop of a saw shows what it does.</summary>
    public SawLive Of(string saw) => _saws.GetOrAdd(saw, static (_, time) => new SawLive(time), machine);

    /// <summary>A saw is not run any more.</summary>
    public void Remove(string saw) => _saws.TryRemove(saw, out _);

    /// <inheritdoc/>
    public SawMoment Read(string saw) => _saws.TryGetValue(saw, out var live) ? live.Read() : SawMoment.Nothing;

    /// <summary>Whether no saw is at work on something that it began before a moment. One that is silent does nothing: what it began is stored as soon as it speaks again.</summary>
    public bool AreSettled(DateTimeOffset moment) => _saws.Values.Select(saw => saw.Read()).All(now => now.State != TimelineState.Executing || now.StateSince is not { } since || since >= moment || now.CutStartedAt >= moment || machine.GetUtcNow() - now.ReceivedAt > now.Holds);

    /// <inheritdoc/>
    public IReadOnlyList<BladeAccount> Blades(string saw) => _saws.TryGetValue(saw, out var live) ? live.Blades : [];
}
