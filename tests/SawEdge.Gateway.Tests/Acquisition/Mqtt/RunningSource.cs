using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Tests.History;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.Acquisition.Mqtt;

/// <summary>A source at work, and what it puts into the inboxes of its saws.</summary>
internal sealed class RunningSource : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly SawInbox[] _inboxes;
    private readonly List<SignalFrame>[] _taken;
    private readonly Task _run;

    public RunningSource(MqttBrokerOptions broker, MqttSourceOptions[] saws, CollectedLog log)
    {
        _inboxes = [.. saws.Select((_, i) => new SawInbox($"saw-{i + 1}"))];
        _taken = [.. saws.Select(_ => new List<SignalFrame>())];
        Source = new MqttBrokerSource(broker, [.. saws.Select((saw, i) => (Published.Saw(saw, $"saw-{i + 1}"), _inboxes[i]))], new FrameClock(TimeProvider.System), TimeProvider.System, log.For<MqttBrokerSource>());
        _run = Source.RunAsync(_stop.Token);
    }

    public MqttBrokerSource Source { get; }

    public List<SignalFrame> Taken => _taken[0];

    public List<SignalFrame> Take(int saw = 0)
    {
        _taken[saw].AddRange(_inboxes[saw].Drain());
        return _taken[saw];
    }

    /// <summary>Frames that a saw's inbox could not hold.</summary>
    public long Lost(int saw) => _inboxes[saw].Lost;

    public Task ListensAsync() => Until.TrueAsync(() => _run.IsCompleted || Source.IsListening, "the broker is listened to");

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        await _run;
        Assert.All(_inboxes, inbox => Assert.True(inbox.Frames.Completion.IsCompleted || inbox.Frames.Count > 0));
        _stop.Dispose();
    }
}
