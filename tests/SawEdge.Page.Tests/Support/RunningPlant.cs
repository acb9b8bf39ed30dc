using System.Text.Json.Nodes;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;
using SawEdge.Simulator.Mqtt;
using SawEdge.Simulator.Saws;
using SawEdge.Simulator.Time;
using SawEdge.TestPlant;
using SawEdge.TestSupport;

namespace SawEdge.Page.Tests.Support;

/// <summary>
/// A gateway at work on the history of a plant: its saws go on from where the history ends and publish over a real broker, its page is
/// served on loopback. Data and gateway live in the plant's own time.
/// </summary>
internal sealed class RunningPlant : IAsyncDisposable
{
    private readonly CancellationTokenSource _stop = new();
    private readonly PlantHistory _history;
    private readonly MosquittoBroker _broker;
    private readonly List<MqttPublisher> _publishers;
    private readonly Task<Exception?> _gateway;

    private RunningPlant(PlantHistory history, MosquittoBroker broker)
    {
        _history = history;
        _broker = broker;
        Address = new Uri($"http://127.0.0.1:{Peer.FreePort()}/");
        history.Configure(broker.Port, new JsonObject { ["http"] = new JsonObject { ["listen"] = Address.ToString() } });
        var loaded = ConfigurationFile.Load(history.Configuration, new Dictionary<string, string>());
        var options = loaded.Options ?? throw new InvalidOperationException(string.Join('\n', loaded.Errors));
        var clock = new ScaledTimeProvider(TimeProvider.System, 1, history.End);
        Clock = clock;
        _gateway = Task.Run(() => GatewayHost.RunAsync(options, new GatewayClocks(clock, clock), LogForm.Text, LogLevel.Warning, null, null, _stop.Token));
        _publishers = [.. history.Saws.Select(saw => new MqttPublisher(
            new LiveSaw(saw, clock),
            new MqttPublisherOptions { Host = "127.0.0.1", Port = broker.Port, ClientId = saw.Name, Topic = PlantHistory.Topic(saw.Name), Interval = TimeSpan.FromMilliseconds(500) },
            clock))];
    }

    /// <summary>Where the page is.</summary>
    public Uri Address { get; }

    /// <summary>The plant's time.</summary>
    public TimeProvider Clock { get; }

    /// <summary>The data folder.</summary>
    public string Folder => _history.Folder;

    /// <summary>Starts it and waits until it answers.</summary>
    public static async Task<RunningPlant> StartAsync()
    {
        var plant = new RunningPlant(await PlantHistory.MakeAsync(), await MosquittoBroker.StartAsync());
        using var client = new HttpClient { BaseAddress = plant.Address };
        await Until.TrueAsync(
            async () =>
            {
                if (plant._gateway.IsCompleted)
                    throw new InvalidOperationException("the gateway has ended", await plant._gateway);
                try
                {
                    return (await client.GetAsync("health/ready")).IsSuccessStatusCode;
                }
                catch (HttpRequestException)
                {
                    return false;
                }
            },
            "the gateway is ready",
            TimeSpan.FromSeconds(60));
        return plant;
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        foreach (var publisher in _publishers)
            await publisher.DisposeAsync();
        await _stop.CancelAsync();
        await _gateway;
        await _broker.DisposeAsync();
        _history.Dispose();
        _stop.Dispose();
    }
}
