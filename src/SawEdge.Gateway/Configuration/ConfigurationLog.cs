using Microsoft.Extensions.Logging;

namespace SawEdge.Gateway.Configuration;

/// <summary>Log messages about the configuration; event identifiers 1000 to 1099.</summary>
public static partial class ConfigurationLog
{
    /// <summary>Writes each finding once, errors as errors and warnings as warnings.</summary>
    /// <param name="logger">Where to.</param>
    /// <param name="file">The configuration file.</param>
    /// <param name="findings">What was found.</param>
    public static void LogFindings(this ILogger logger, string file, IEnumerable<Finding> findings)
    {
        foreach (var finding in findings)
        {
            if (finding.Severity == FindingSeverity.Error)
                LogError(logger, file, finding);
            else
                LogWarning(logger, file, finding);
        }
    }

    [LoggerMessage(1001, LogLevel.Error, "{File}: {Finding}")]
    private static partial void LogError(ILogger logger, string file, Finding finding);

    [LoggerMessage(1002, LogLevel.Warning, "{File}: {Finding}")]
    private static partial void LogWarning(ILogger logger, string file, Finding finding);
}
