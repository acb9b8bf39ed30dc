using SawEdge.Gateway.Configuration;
using SawEdge.Modbus;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>Makes the reader for a configured device, whatever lies between it and the gateway.</summary>
internal static class ModbusReaders
{
    /// <summary>Prepares a reader; it connects with its first request.</summary>
    /// <param name="device">The device.</param>
    /// <param name="time">Timeouts.</param>
    public static IModbusReader Open(ModbusDeviceOptions device, TimeProvider time) => device switch
    {
        ModbusTcpDeviceOptions { IsRtu: false } tcp => new ModbusTcpReader(
            new ModbusTcpOptions { Host = tcp.Host, Port = tcp.Port, ConnectTimeout = tcp.ConnectTimeout, ResponseTimeout = tcp.ResponseTimeout },
            time),
        _ => throw new ArgumentException($"Device {device.Name} is of an unknown kind.", nameof(device)),
    };
}
