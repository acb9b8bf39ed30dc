using SawEdge.Core.Signals;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;

namespace SawEdge.Gateway.Commands;

/// <summary>What the user asked of <c>replay</c>.</summary>
public sealed record ReplaySettings
{
    /// <summary>Files, folders and patterns.</summary>
    public required IReadOnlyList<string> Inputs { get; init; }

    /// <summary>Folder of the separate history and of cycles.csv and alarms.csv.</summary>
    public required string OutFolder { get; init; }

    /// <summary>The configuration file, or null: the saws as the recordings name them.</summary>
    public string? ConfigFile { get; init; }

    /// <summary>The job list, or null: that of the configuration.</summary>
    public string? JobsFile { get; init; }

    /// <summary>The saw of recordings that have no column for it, or null: each file's own name.</summary>
    public string? Saw { get; init; }

    /// <summary>Whether an earlier replay in the folder may be replaced.</summary>
    public bool Overwrite { get; init; }
}

/// <summary>One run of the live code on recorded frames, into the history of the replay's folder.</summary>
public interface IReplayRun : IAsyncDisposable
{
    /// <summary>Gives the next frame; waits where processing is behind, so that no frame is lost.</summary>
    /// <param name="saw">Name of the saw.</param>
    /// <param name="frame">The frame; times rise for each saw, as far as they do in the recordings.</param>
    /// <param name="cancellation">Ends the wait.</param>
    ValueTask WriteAsync(string saw, in SignalFrame frame, CancellationToken cancellation);

    /// <summary>Says that no frame follows, and waits until all that follows from them is in the history.</summary>
    /// <param name="cancellation">Ends the wait.</param>
    Task CompleteAsync(CancellationToken cancellation);

    /// <summary>The table of the cycles of the history, to be read once; after <see cref="CompleteAsync"/>.</summary>
    IRowSource Cycles();

    /// <summary>The table of the alarms of the history, to be read once; after <see cref="CompleteAsync"/>.</summary>
    IRowSource Alarms();
}

/// <summary>Starts the live code on an empty history.</summary>
/// <param name="settings">What was asked for; the folder is there, can be written and holds no history.</param>
/// <param name="options">The configuration, or null.</param>
/// <param name="cancellation">Ends the start.</param>
/// <exception cref="CommandException">The job list is wrong.</exception>
public delegate Task<IReplayRun> StartReplay(ReplaySettings settings, GatewayOptions? options, CancellationToken cancellation);
