using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Acquisition.Modbus;

/// <summary>What polling has to say: each trouble once when it begins and once when it ends.</summary>
internal static partial class ModbusLog
{
    [LoggerMessage(2101, LogLevel.Warning, "Device {Device} cannot be reached: no signals from {Saws}. {Reason} It is tried again until it is back, at least every {Seconds} s.")]
    public static partial void DeviceIsAway(ILogger logger, string device, string saws, string reason, double seconds);

    [LoggerMessage(2102, LogLevel.Information, "Device {Device} is connected again after {Seconds:0.0} s.")]
    public static partial void DeviceIsBack(ILogger logger, string device, double seconds);

    [LoggerMessage(2103, LogLevel.Warning, "Saw {Saw} gets no or not all signals. {Reason}")]
    public static partial void SawTroubleBegins(ILogger logger, string saw, string reason);

    [LoggerMessage(2104, LogLevel.Information, "Saw {Saw} gets its signals again after {Seconds:0.0} s.")]
    public static partial void SawTroubleEnds(ILogger logger, string saw, double seconds);

    [LoggerMessage(2105, LogLevel.Warning, "Saw {Saw}: {Signals} cannot be read and is left out; the other signals go on. {Reason} It is tried again every {Seconds} s.")]
    public static partial void SignalIsRefused(ILogger logger, string saw, string signals, string reason, double seconds);

    [LoggerMessage(2106, LogLevel.Information, "Saw {Saw}: {Signals} can be read again.")]
    public static partial void SignalIsTaken(ILogger logger, string saw, string signals);

    [LoggerMessage(2107, LogLevel.Warning, "Saw {Saw} cannot be polled every {Milliseconds} ms; polls are left out and counted. Make the interval longer, or read fewer registers and saws over this connection.")]
    public static partial void PollingIsBehind(ILogger logger, string saw, double milliseconds);

    [LoggerMessage(2108, LogLevel.Information, "Saw {Saw} is polled every {Milliseconds} ms again; {Missed} polls were left out.")]
    public static partial void PollingIsInTime(ILogger logger, string saw, double milliseconds, long missed);

    [LoggerMessage(2111, LogLevel.Debug, "Device {Device}: the connection could not be made: {Reason}")]
    public static partial void ConnectingFailed(ILogger logger, string device, string reason);

    [LoggerMessage(2110, LogLevel.Debug, "Saw {Saw}: a request brought no values: {Reason}")]
    public static partial void RequestFailed(ILogger logger, string saw, string reason);

    [LoggerMessage(2109, LogLevel.Information, "Device {Device}: {Endpoint} is polled for {Saws}.")]
    public static partial void PollingStarts(ILogger logger, string device, string endpoint, string saws);
}
