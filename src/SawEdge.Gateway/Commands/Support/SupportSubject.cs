using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Support;

/// <summary>The gateway that a file for support is about, as far as its configuration and folder can be found.</summary>
/// <param name="ConfigFile">The configuration file, or null.</param>
/// <param name="Redacted">What of it can be handed on; null where there is none.</param>
/// <param name="Folder">The data folder with the configuration, where it can be used; null where nothing names a folder.</param>
internal sealed record SupportSubject(string? ConfigFile, RedactedConfiguration? Redacted, NamedFolder? Folder)
{
    /// <summary>Finds it, whatever state it is in.</summary>
    /// <param name="config">The configuration file, or null.</param>
    /// <param name="data">The data folder that was named, or null: the configuration's.</param>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    public static SupportSubject Read(string? config, string? data, IReadOnlyDictionary<string, string> environment)
    {
        if (config is null)
            return new SupportSubject(null, null, new NamedFolder(data!, null, ConfigurationFile.DefaultName));
        var redacted = RedactedConfiguration.Read(config, environment);
        var options = ConfigurationFile.Load(config, environment).Options;
        var folder = data ?? options?.DataFolder ?? redacted.DataFolder;
        return new SupportSubject(config, redacted, folder is null ? null : new NamedFolder(folder, options, config));
    }
}
