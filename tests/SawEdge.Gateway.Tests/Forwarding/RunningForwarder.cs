using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>The way of the journal to a destination, at work on a history.</summary>
internal sealed class RunningForwarder : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly Destination _destination;
    private readonly JournalLane _lane;
    private readonly Task _run;

    public RunningForwarder(RunningHistory history, InfluxOptions options, TimeProvider? time = null, string site = "North plant")
    {
        _destination = new Destination(options, time ?? TimeProvider.System, Log.For<Destination>());
        _lane = new JournalLane(_destination, site, "gateway1", history.Reader, history.Writer);
        _run = _lane.RunAsync(_stop.Token);
    }

    public CollectedLog Log { get; } = new();

    public long Cursor => _lane.Cursor;

    public bool InTrouble => _destination.InTrouble;

    /// <summary>Waits until everything up to a journal entry is done with.</summary>
    public Task ReachesAsync(long sequence, TimeSpan? within = null) => Until.TrueAsync(
        () =>
        {
            ThrowIfEnded();
            return Cursor >= sequence;
        },
        () => $"the cursor reaches {sequence}; it is at {Cursor}; said: {string.Join('\n', Log.Entries)}",
        within);

    /// <summary>Throws what ended the loop, if it ended.</summary>
    public void ThrowIfEnded()
    {
        if (_run.IsCompleted)
            _run.GetAwaiter().GetResult();
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _run);
        _destination.Dispose();
        _stop.Dispose();
    }
}
