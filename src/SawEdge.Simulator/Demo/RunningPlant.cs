using SawEdge.Simulator.Modbus;
using SawEdge.Simulator.Mqtt;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Demo;

/// <summary>The plant at work: its Modbus TCP device and its publishers, all in one virtual time.</summary>
public sealed class RunningPlant : IAsyncDisposable
{
    private readonly List<MqttPublisher> _publishers = [];

    private RunningPlant(Plant plant, IReadOnlyList<LiveSaw> saws, ModbusTcpServer device) => (Plant, Saws, Device) = (plant, saws, device);

    /// <summary>The plant.</summary>
    public Plant Plant { get; }

    /// <summary>Its saws, in the order of the plant; faults can be switched on and off here.</summary>
    public IReadOnlyList<LiveSaw> Saws { get; }

    /// <summary>The device behind which the Modbus saws stand, on loopback; <see cref="ModbusTcpServer.Port"/> says where.</summary>
    public ModbusTcpServer Device { get; }

    /// <summary>The publishers of the MQTT saws.</summary>
    public IReadOnlyList<MqttPublisher> Publishers => _publishers;

    /// <summary>Sets the plant to work.</summary>
    /// <param name="plant">The plant.</param>
    /// <param name="clock">Virtual time; the saws stand still while it is before the plant's start.</param>
    /// <param name="brokerHost">Host of the broker for the MQTT saws.</param>
    /// <param name="brokerPort">Port of the broker.</param>
    /// <param name="interval">Time between published frames, in virtual time.</param>
    /// <param name="devicePort">Port of the Modbus device; 0: any free one.</param>
    /// <exception cref="System.Net.Sockets.SocketException">The device's port cannot be had.</exception>
    public static RunningPlant Start(Plant plant, TimeProvider clock, string brokerHost, int brokerPort, TimeSpan interval, int devicePort = 0)
    {
        var saws = plant.Saws.Select(saw => new LiveSaw(new VirtualSaw(saw.Options), clock)).ToArray();
        var units = plant.Saws.Zip(saws)
            .Where(pair => pair.First.Link == PlantLink.Modbus)
            .ToDictionary(pair => pair.First.Unit, pair => new ModbusUnit(pair.Second, pair.First.Layout!));
        var running = new RunningPlant(plant, saws, ModbusTcpServer.Start(units, devicePort));
        foreach (var (saw, live) in plant.Saws.Zip(saws).Where(pair => pair.First.Link == PlantLink.Mqtt))
        {
            var options = new MqttPublisherOptions
            {
                Host = brokerHost,
                Port = brokerPort,
                ClientId = $"{saw.Name}-controller",
                Topic = saw.Topic!,
                Interval = interval,
            };
            running._publishers.Add(new MqttPublisher(live, options, clock));
        }

        return running;
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        foreach (var publisher in _publishers)
            await publisher.DisposeAsync();
        await Device.DisposeAsync();
    }
}
