using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Accounts;

/// <summary>What the accounts say. Event ids 9000 to 9099.</summary>
internal static partial class AccountsLog
{
    [LoggerMessage(9001, LogLevel.Error, "The figures of the hours cannot be worked out at the moment: {Reason} It is tried again each minute.")]
    public static partial void Unread(ILogger logger, string reason);

    [LoggerMessage(9002, LogLevel.Information, "The figures of the hours are worked out again.")]
    public static partial void ReadAgain(ILogger logger);

    [LoggerMessage(9003, LogLevel.Information, "The report {File} was written.")]
    public static partial void ReportWritten(ILogger logger, string file);

    [LoggerMessage(9004, LogLevel.Error, "The report '{Title}' cannot be written to '{Folder}': {Reason} It is tried again each minute.")]
    public static partial void ReportFailed(ILogger logger, string title, string folder, string reason);
}
