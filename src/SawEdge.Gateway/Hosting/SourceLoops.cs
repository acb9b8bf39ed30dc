using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Modbus;
using SawEdge.Gateway.Acquisition.Mqtt;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Hosting;

/// <summary>The loops that bring frames in: one for each connection that a configured saw needs.</summary>
internal static class SourceLoops
{
    /// <summary>Builds them.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="inboxes">Where each saw's frames go.</param>
    /// <param name="time">The saws' clock.</param>
    /// <param name="loggers">The loggers.</param>
    /// <param name="observer">Sees the values as they come, or null; where it is there, the configuration has one saw.</param>
    public static IEnumerable<ISawSource> Build(GatewayOptions options, IReadOnlyDictionary<string, SawInbox> inboxes, TimeProvider time, ILoggerFactory loggers, IRawValueObserver? observer = null)
    {
        var clock = new FrameClock(time);
        return options.ModbusDevices.Select(device => device.Name).Concat(options.MqttBrokers.Select(broker => broker.Name))
            .Select(name => (name, saws: options.Saws.Where(saw => SourceOf(saw) == name).Select(saw => (saw, inboxes[saw.Name])).ToList()))
            .Where(source => source.saws.Count > 0)
            .Select(source => Build(options, source.name, source.saws, clock, time, loggers, observer));
    }

    /// <summary>Builds one.</summary>
    /// <param name="options">The configuration.</param>
    /// <param name="source">Name of the device or broker.</param>
    /// <param name="saws">The saws that are read from it, each with its inbox.</param>
    /// <param name="clock">The time of frames that have no clock of their own.</param>
    /// <param name="time">The saws' clock.</param>
    /// <param name="loggers">The loggers.</param>
    /// <param name="observer">Sees the values as they come, or null.</param>
    public static ISawSource Build(GatewayOptions options, string source, IReadOnlyList<(SawOptions Saw, SawInbox Inbox)> saws, FrameClock clock, TimeProvider time, ILoggerFactory loggers, IRawValueObserver? observer = null) =>
        options.ModbusDevices.FirstOrDefault(device => device.Name == source) is { } device
            ? new ModbusDevicePoller(device, saws, clock, time, loggers.CreateLogger<ModbusDevicePoller>(), observer)
            : new MqttBrokerSource(options.MqttBrokers.First(broker => broker.Name == source), saws, clock, time, loggers.CreateLogger<MqttBrokerSource>(), observer);

    /// <summary>The signals that any of the saws maps, in the order of the vocabulary.</summary>
    public static IEnumerable<Signal> MappedSignals(GatewayOptions options)
    {
        var mapped = options.Saws.SelectMany(saw => saw.MappedSignals).ToHashSet();
        return SignalInfo.All.Select(info => info.Signal).Where(mapped.Contains);
    }

    /// <summary>The configuration without the saws that are read from recordings alone: those that a gateway can run.</summary>
    public static GatewayOptions Live(GatewayOptions options) => options with { Saws = [.. options.Saws.Where(saw => saw.Source is not RecordingSourceOptions)] };

    /// <summary>Whether a saw sends only what changes, so that nothing may come for hours although all is well.</summary>
    public static bool PublishesChanges(SawOptions saw) => saw.Source is MqttSourceOptions { FrameTopic: null, HoldFor: null } or SparkplugSourceOptions;

    /// <summary>Whether a saw's messages bring the time of their frames.</summary>
    public static bool BringsTimes(SawOptions saw) => saw.Source is MqttSourceOptions { FrameTopic: not null, TimeMember: not null } or SparkplugSourceOptions;

    /// <summary>Name of the device or broker that a saw's signals come from.</summary>
    public static string SourceOf(SawOptions saw) => saw.Source switch
    {
        ModbusSourceOptions modbus => modbus.Device,
        _ when BrokerOf(saw) is { } broker => broker,
        _ => throw new InvalidOperationException($"Saw {saw.Name} has a source of an unknown kind."),
    };

    private static string? BrokerOf(SawOptions saw) => saw.Source switch
    {
        MqttSourceOptions mqtt => mqtt.Broker,
        SparkplugSourceOptions sparkplug => sparkplug.Broker,
        _ => null,
    };
}
