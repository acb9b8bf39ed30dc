using SawEdge.Core.Alarms;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;
using SawEdge.Gateway.Notification;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Notification;

/// <summary>A channel at work on a history.</summary>
internal sealed class RunningChannel : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly ChannelLoop _loop;
    private readonly Task _run;

    public RunningChannel(RunningHistory history, ChannelOptions channel, TimeProvider time, params MqttBrokerOptions[] brokers)
    {
        var options = new GatewayOptions
        {
            Site = "Riverbend",
            Gateway = "gateway1",
            DataFolder = history.Folder,
            Saws = [],
            TimeZone = Samples.Zone,
            MqttBrokers = brokers,
            Alarms = new AlarmOptions { Channels = [channel] },
        };
        _loop = Assert.Single(Channels.Build(options, history.Reader, history.Writer, time, Log.For<ChannelLoop>()));
        _run = _loop.RunAsync(_stop.Token);
    }

    public CollectedLog Log { get; } = new();

    public long Cursor => _loop.Cursor;

    public bool InTrouble => _loop.InTrouble;

    /// <summary>Stores alarms, what happened to them, and notices.</summary>
    public static Task StoreAsync(RunningHistory history, IReadOnlyList<AlarmEvent> events, params Notice[] notices) =>
        history.Writer.AppendAlarmsAsync(new AlarmBatch { Events = events, Notices = notices }, CancellationToken.None);

    /// <summary>Waits until everything up to a journal entry is done with; moves a clock of the test's own meanwhile.</summary>
    public Task ReachesAsync(long sequence, Action? meanwhile = null) => UntilAsync(() => Cursor >= sequence, () => $"the cursor reaches {sequence}; it is at {Cursor}", meanwhile);

    public Task UntilAsync(Func<bool> condition, Func<string> what, Action? meanwhile = null) => Until.TrueAsync(
        () =>
        {
            if (_run.IsCompleted)
                _run.GetAwaiter().GetResult();
            meanwhile?.Invoke();
            return condition();
        },
        () => $"{what()}; said: {string.Join('\n', Log.Entries)}");

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => _run);
        await _loop.DisposeAsync();
        _stop.Dispose();
    }
}
