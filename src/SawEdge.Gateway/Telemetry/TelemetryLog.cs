using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Telemetry;

/// <summary>What is said of telling others how the gateway is. Event ids 9500 to 9599.</summary>
internal static partial class TelemetryLog
{
    [LoggerMessage(9500, LogLevel.Information, "OTLP: {What} go to {Endpoint}")]
    public static partial void Started(ILogger logger, string what, string endpoint);

    [LoggerMessage(9501, LogLevel.Warning, "OTLP: {Endpoint} does not take {What}: {Reason}. What is told meanwhile is lost; nothing else is held up")]
    public static partial void Fails(ILogger logger, string endpoint, string what, string reason);

    [LoggerMessage(9502, LogLevel.Information, "OTLP: {Endpoint} takes {What} again, after {Duration}")]
    public static partial void Works(ILogger logger, string endpoint, string what, TimeSpan duration);

    [LoggerMessage(9503, LogLevel.Warning, "OTLP: the figures cannot be read at the moment: {Reason}")]
    public static partial void Unread(ILogger logger, string reason);
}
