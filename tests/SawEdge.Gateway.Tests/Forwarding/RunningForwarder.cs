using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Forwarding;

/// <summary>A forwarder at work on a history.</summary>
internal sealed class RunningForwarder : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly InfluxForwarder _forwarder;
    private readonly Task _run;

    public RunningForwarder(RunningHistory history, InfluxOptions options, TimeProvider? time = null, string site = "North plant")
    {
        _forwarder = new InfluxForwarder(options, site, "gateway1", history.Reader, history.Writer, time ?? TimeProvider.System, Log.For<InfluxForwarder>());
        _run = _forwarder.RunAsync(_stop.Token);
    }

    public CollectedLog Log { get; } = new();

    public long Cursor => _forwarder.Cursor;

    public bool InTrouble => _forwarder.InTrouble;

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
        _forwarder.Dispose();
        _stop.Dispose();
    }
}
