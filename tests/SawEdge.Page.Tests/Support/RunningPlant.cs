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
    private const string OtherTopic = "plant/first";

    private CancellationTokenSource _stop = new();
    private readonly PlantHistory _history;
    private readonly MosquittoBroker _broker;
    private readonly List<MqttPublisher> _publishers;
    private Task<Exception?> _gateway = Task.FromResult<Exception?>(null);

    private RunningPlant(PlantHistory history, MosquittoBroker broker, JsonObject more, bool isAtWork)
    {
        _history = history;
        _broker = broker;
        Address = new Uri($"http://127.0.0.1:{Peer.FreePort()}/");
        more["http"] = new JsonObject { ["listen"] = Address.ToString() };
        history.Configure(broker.Port, more);
        var clock = new ScaledTimeProvider(TimeProvider.System, 1, history.End);
        Clock = clock;
        _publishers = !isAtWork ? [] : [.. history.Saws.Select(saw => new MqttPublisher(
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

    /// <summary>The configuration file.</summary>
    public string Configuration => _history.Configuration;

    /// <summary>Starts a plant at work and waits until its gateway answers.</summary>
    public static async Task<RunningPlant> StartAsync() => await StartAsync(new PlantSettings(), [], isAtWork: true);

    /// <summary>Starts a gateway that has seen nothing yet: it is night, nothing is recorded, nothing comes, and there is no calendar.</summary>
    public static async Task<RunningPlant> StartEmptyAsync() => await StartAsync(Nothing, new JsonObject { ["calendar"] = null }, isAtWork: false);

    /// <summary>Starts a gateway that has seen nothing yet, the second of two, and waits until it answers; the other one says that it runs.</summary>
    public static async Task<RunningPlant> StartSecondAsync()
    {
        var standby = new JsonObject { ["role"] = "second", ["broker"] = "hall", ["topic"] = "plant/second", ["other"] = OtherTopic, ["after"] = "2 s" };
        var plant = new RunningPlant(await PlantHistory.MakeAsync(Nothing), await MosquittoBroker.StartAsync(), new JsonObject { ["standby"] = standby }, isAtWork: false);
        await plant.OtherSaysAsync("online");
        await plant.StartGatewayAsync();
        return plant;
    }

    /// <summary>Has the other of two gateways say how it is.</summary>
    public Task OtherSaysAsync(string words) => _broker.PublishAsync(OtherTopic, words, "-r");

    /// <summary>Stops the gateway, as an update of the system would.</summary>
    public async Task StopGatewayAsync()
    {
        await _stop.CancelAsync();
        Assert.Null(await _gateway);
    }

    /// <summary>Starts the gateway and waits until it answers.</summary>
    public async Task StartGatewayAsync()
    {
        var loaded = ConfigurationFile.Load(Configuration, new Dictionary<string, string>());
        var options = loaded.Options ?? throw new InvalidOperationException(string.Join('\n', loaded.Errors));
        _stop.Dispose();
        _stop = new CancellationTokenSource();
        _gateway = Task.Run(() => GatewayHost.RunAsync(options, new GatewayClocks(Clock, Clock), LogForm.Text, LogLevel.Warning, null, null, _stop.Token));
        using var client = new HttpClient { BaseAddress = Address };
        await Until.TrueAsync(
            async () =>
            {
                if (_gateway.IsCompleted)
                    throw new InvalidOperationException("the gateway has ended", await _gateway);
                try
                {
                    return (await client.GetAsync("health/ready")).IsSuccessStatusCode;
                }
                catch (HttpRequestException)
                {
                    return false;
                }
            },
            "the gateway is ready");
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

    // Midnight at the plant: the history ends where it begins.
    private static PlantSettings Nothing => new() { End = new DateTimeOffset(2026, 3, 5, 6, 0, 0, TimeSpan.Zero), Days = 0 };

    private static async Task<RunningPlant> StartAsync(PlantSettings settings, JsonObject more, bool isAtWork)
    {
        var plant = new RunningPlant(await PlantHistory.MakeAsync(settings), await MosquittoBroker.StartAsync(), more, isAtWork);
        await plant.StartGatewayAsync();
        return plant;
    }
}
