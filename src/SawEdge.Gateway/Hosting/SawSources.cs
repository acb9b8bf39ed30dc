using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Hosting;

/// <summary>The connections that saws are read from, by the name of the device or broker. A saw comes and goes without the others noticing.</summary>
/// <param name="time">The saws' clock.</param>
/// <param name="loggers">The loggers.</param>
/// <param name="guard">Watches the loops.</param>
internal sealed class SawSources(TimeProvider time, ILoggerFactory loggers, LoopGuard guard)
{
    private readonly FrameClock _clock = new(time);
    private readonly Dictionary<string, Running> _running = new(StringComparer.Ordinal);

    /// <summary>Starts all that some saws need.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="saws">The saws.</param>
    public void Start(GatewayOptions options, IEnumerable<RunningSaw> saws)
    {
        foreach (var source in saws.GroupBy(saw => SourceLoops.SourceOf(saw.Options), StringComparer.Ordinal))
            Start(options, source.Key, [.. source]);
    }

    /// <summary>Reads another saw as well.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="saw">The saw.</param>
    public async Task AddAsync(GatewayOptions options, RunningSaw saw)
    {
        var name = SourceLoops.SourceOf(saw.Options);
        if (!_running.TryGetValue(name, out var running))
        {
            Start(options, name, [saw]);
            return;
        }

        await running.Source.AddAsync(saw.Options, saw.Inbox, guard.Stop);
        running.Saws.Add(saw.Name);
        saw.Polls = running.Source.CountersOf(saw.Name);
    }

    /// <summary>Reads some saws no more. A connection that serves no other is ended; so is one that is to be made anew.</summary>
    /// <param name="saws">The saws.</param>
    public async Task RemoveAsync(IReadOnlyList<RunningSaw> saws)
    {
        foreach (var source in saws.GroupBy(saw => SourceLoops.SourceOf(saw.Options), StringComparer.Ordinal))
        {
            var running = _running[source.Key];
            running.Saws.ExceptWith(source.Select(saw => saw.Name));
            if (running.Saws.Count == 0)
            {
                _running.Remove(source.Key);
                await running.Asked.CancelAsync();
                await running.Loop;
                running.Asked.Dispose();
                continue;
            }

            foreach (var saw in source)
                await running.Source.RemoveAsync(saw.Name, guard.Stop);
        }
    }

    /// <summary>Ends when none runs any more, all having been asked to end.</summary>
    public async Task EndAsync()
    {
        await Task.WhenAll(_running.Values.Select(running => running.Loop));
        foreach (var running in _running.Values)
            running.Asked.Dispose();
    }

    private void Start(GatewayOptions options, string name, IReadOnlyList<RunningSaw> saws)
    {
        var source = SourceLoops.Build(options, name, [.. saws.Select(saw => (saw.Options, saw.Inbox))], _clock, time, loggers);
        var asked = CancellationTokenSource.CreateLinkedTokenSource(guard.Stop);
        var loop = guard.WatchOneAsync(source.What, source.RunAsync(asked.Token), asked.Token);
        _running.Add(name, new Running(source, loop, asked, saws.Select(saw => saw.Name).ToHashSet(StringComparer.Ordinal)));
        foreach (var saw in saws)
            saw.Polls = source.CountersOf(saw.Name);
    }

    private sealed record Running(ISawSource Source, Task Loop, CancellationTokenSource Asked, HashSet<string> Saws);
}
