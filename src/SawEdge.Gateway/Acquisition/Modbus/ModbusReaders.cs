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
        ModbusTcpDeviceOptions { IsRtu: false } tcp => new ModbusTcpReader(Options(tcp), time),
        ModbusTcpDeviceOptions server => new ModbusRtuReader(Options(server), time),
        ModbusSerialDeviceOptions line => new ModbusRtuReader(Options(line), time),
        _ => throw new ArgumentException($"Device {device.Name} is of an unknown kind.", nameof(device)),
    };

    private static ModbusTcpOptions Options(ModbusTcpDeviceOptions device) => new()
    {
        Host = device.Host,
        Port = device.Port,
        ConnectTimeout = device.ConnectTimeout,
        ResponseTimeout = device.ResponseTimeout,
        Pause = device.Pause,
    };

    private static ModbusSerialOptions Options(ModbusSerialDeviceOptions device) => new()
    {
        Line = device.Line,
        Baud = device.Baud,
        Parity = device.Parity switch
        {
            LineParity.None => SerialParity.None,
            LineParity.Odd => SerialParity.Odd,
            _ => SerialParity.Even,
        },
        StopBits = device.StopBits,
        ResponseTimeout = device.ResponseTimeout,
        Pause = device.Pause,
    };
}
