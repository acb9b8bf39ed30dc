using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Processing;
using SawEdge.Gateway.Processing.Alarms;

namespace SawEdge.Gateway.Hosting;

/// <summary>All that runs for one saw: where its frames come in, and the loop that takes them.</summary>
internal sealed class RunningSaw : IDisposable
{
    private readonly CancellationTokenSource _asked = new();

    /// <summary>What is configured of it; what is configured is exchanged where that interrupts nothing.</summary>
    public required SawOptions Options { get; set; }

    /// <summary>Its name.</summary>
    public string Name => Options.Name;

    /// <summary>What is heard of it.</summary>
    public required SawPresence Presence { get; init; }

    /// <summary>Where its frames come in.</summary>
    public required SawInbox Inbox { get; init; }

    /// <summary>The rules about it.</summary>
    public required SawAlarms Alarms { get; init; }

    /// <summary>Its loop.</summary>
    public required SawProcessor Processor { get; init; }

    /// <summary>What polling it came to; null where it is not polled.</summary>
    public PollCounters? Polls { get; set; }

    /// <summary>Ends with its loop.</summary>
    public Task Loop { get; private set; } = Task.CompletedTask;

    /// <summary>Starts its loop.</summary>
    /// <param name="run">Runs it, watched: told when it alone is asked to end.</param>
    public void Start(Func<CancellationToken, Task> run) => Loop = run(_asked.Token);

    /// <summary>Says that its loop is about to be asked to end: a source that ends with its last saw ends the loop, too.</summary>
    public void Ask() => _asked.Cancel();

    /// <summary>Has its loop end once every frame is taken: what is open is stored, as at a stop of the gateway.</summary>
    public void End()
    {
        _asked.Cancel();
        Inbox.Complete();
    }

    /// <inheritdoc/>
    public void Dispose() => _asked.Dispose();
}
