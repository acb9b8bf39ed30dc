using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Api;

/// <summary>What is said of serving people over HTTP, event ids 8000 and up.</summary>
internal static partial class ApiLog
{
    [LoggerMessage(8000, LogLevel.Information, "http: listening on {Address}, reached at {Public}")]
    public static partial void Listening(ILogger logger, string address, string @public);

    [LoggerMessage(8001, LogLevel.Error, "http: cannot listen on {Address} ({Reason}); tried again every {Seconds} s. Choose another address or port ({Setting})")]
    public static partial void CannotListen(ILogger logger, string address, string reason, double seconds, string setting);

    [LoggerMessage(8002, LogLevel.Information, "answer links: alarm {Number}, {Action} by {Contact}, from {Remote}")]
    public static partial void Taken(ILogger logger, long number, string action, string contact, string remote);

    [LoggerMessage(8003, LogLevel.Warning, "answer links: an answer to alarm {Number} cannot be stored: {Reason}")]
    public static partial void NotStored(ILogger logger, long number, string reason);

    [LoggerMessage(8004, LogLevel.Warning, "http: a request from {Remote} was refused: {Reason}. More of that within a minute is not said again")]
    public static partial void Refused(ILogger logger, string remote, string reason);

    [LoggerMessage(8005, LogLevel.Warning, "http: requests cannot be answered: {Reason}")]
    public static partial void HistoryTrouble(ILogger logger, string reason);

    [LoggerMessage(8006, LogLevel.Error, "http: {Method} {Endpoint} failed")]
    public static partial void Failed(ILogger logger, string method, string endpoint, Exception error);

    [LoggerMessage(8007, LogLevel.Error, "http: the certificate cannot be renewed, the one before is shown on: {Reason}")]
    public static partial void CertificateKept(ILogger logger, string reason);

    [LoggerMessage(8008, LogLevel.Information, "http: {Action} {Subject} by {Who}, from {Origin}")]
    public static partial void Changed(ILogger logger, string action, string subject, string who, string origin);

    [LoggerMessage(8009, LogLevel.Debug, "http: {Method}, {Endpoint}: status {Status} after {Milliseconds:0.0} ms")]
    public static partial void Answered(ILogger logger, string method, string endpoint, int status, double milliseconds);

    [LoggerMessage(8040, LogLevel.Warning, "API: the history cannot be read for the event stream ({Reason}); it goes on once it can")]
    public static partial void StreamUnread(ILogger logger, string reason);

    [LoggerMessage(8041, LogLevel.Information, "API: the history can be read for the event stream again")]
    public static partial void StreamReads(ILogger logger);

    [LoggerMessage(8042, LogLevel.Error, "API: the event stream broke off; readers begin anew")]
    public static partial void StreamBroken(ILogger logger, Exception problem);

    [LoggerMessage(8043, LogLevel.Warning, "API: an export of {Table} broke off: {Reason}")]
    public static partial void ExportBroken(ILogger logger, string table, string reason);
}
