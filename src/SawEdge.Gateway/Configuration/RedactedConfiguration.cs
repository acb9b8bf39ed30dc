using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration;

/// <summary>A configuration that can be handed on: without secrets, and the secrets themselves, to be taken out of other texts.</summary>
public sealed class RedactedConfiguration
{
    // A shorter text stands in many a word that is no secret, and protects nothing.
    private const int ShortestSecret = 4;

    private readonly IReadOnlyList<string> _secrets;

    private RedactedConfiguration(string? json, IEnumerable<string> secrets, string? dataFolder)
    {
        Json = json;
        DataFolder = dataFolder;

        // The longer ones first: one may hold another.
        _secrets = [.. secrets.Where(secret => secret.Length >= ShortestSecret).OrderByDescending(secret => secret.Length)];
    }

    /// <summary>The configuration with the environment's values laid over it, as JSON; null where the file is no JSON: nobody can tell then what in it is a secret.</summary>
    public string? Json { get; }

    /// <summary>The data folder that it names, full path; null where it names none.</summary>
    public string? DataFolder { get; }

    /// <summary>Reads a configuration, also one with mistakes.</summary>
    /// <param name="path">The file.</param>
    /// <param name="environment">Environment variables that lie over it.</param>
    public static RedactedConfiguration Read(string path, IReadOnlyDictionary<string, string> environment)
    {
        var findings = new Findings();
        var full = Path.GetFullPath(path);
        var root = ConfigurationFile.ReadBytes(full, findings) is { } bytes ? SourceParser.Parse(bytes, findings) : null;

        // The environment may hold secrets whatever the file is.
        var set = environment.Where(variable => variable.Key.StartsWith(EnvironmentOverlay.Prefix, StringComparison.OrdinalIgnoreCase)).Select(variable => variable.Value).ToList();
        if (root is not { Kind: SourceKind.Object })
            return new RedactedConfiguration(null, set, null);
        var type = GatewayBinding.Type.Describe();
        EnvironmentOverlay.Apply(root, type, environment, findings);
        var folder = Path.GetDirectoryName(full)!;
        var (json, known) = SecretRemoval.Write(root, type, stated => SecretFile.Find(stated, folder, environment.GetValueOrDefault("CREDENTIALS_DIRECTORY")).Path is { } file && SecretFile.TryRead(file, out var secret, out _) ? secret : null);
        var data = root.Find("dataFolder") is { Kind: SourceKind.Text or SourceKind.Loose, Text: { Length: > 0 } text } ? Path.GetFullPath(text, folder) : null;
        return new RedactedConfiguration(json, known, data);
    }

    /// <summary>Takes every known secret out of a text.</summary>
    public string Clean(string text) => _secrets.Aggregate(text, (cleaned, secret) => cleaned.Replace(secret, SecretRemoval.Mark, StringComparison.Ordinal));
}
