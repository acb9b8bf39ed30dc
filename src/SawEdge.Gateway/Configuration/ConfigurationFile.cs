using System.Collections;
using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration;

/// <summary>What came of reading a configuration.</summary>
/// <param name="Options">The configuration; null where there is any error.</param>
/// <param name="Findings">Errors and warnings, from the top of the file to its end, then those of environment variables.</param>
public sealed record LoadedConfiguration(GatewayOptions? Options, IReadOnlyList<Finding> Findings)
{
    /// <summary>Whether the file could be opened and is JSON; where not, nothing in it was checked.</summary>
    public bool IsReadable { get; init; } = true;

    /// <summary>Files that hold secrets of it, full paths.</summary>
    public IReadOnlyList<string> SecretFiles { get; init; } = [];

    /// <summary>The file as it was written, with the environment over it and "like another" filled in; null where it is no JSON.</summary>
    internal SourceNode? Source { get; init; }

    /// <summary>What keeps the gateway from starting.</summary>
    public IEnumerable<Finding> Errors => Findings.Where(finding => finding.Severity == FindingSeverity.Error);

    /// <summary>What is doubtful.</summary>
    public IEnumerable<Finding> Warnings => Findings.Where(finding => finding.Severity == FindingSeverity.Warning);
}

/// <summary>The configuration file of a gateway with the environment variables that lie over it.</summary>
public static class ConfigurationFile
{
    /// <summary>The file that is read where none is named.</summary>
    public const string DefaultName = "sawedge.json";

    private const long LargestBytes = 16 * 1024 * 1024;

    /// <summary>Reads, converts and checks everything once, and reports every mistake there is.</summary>
    /// <param name="path">The file.</param>
    /// <param name="environment">Environment variables; those that begin with <c>SAWEDGE_</c> lie over the file. See <see cref="Environment"/>.</param>
    public static LoadedConfiguration Load(string path, IReadOnlyDictionary<string, string> environment)
    {
        var findings = new Findings();
        var full = Path.GetFullPath(path);
        var bytes = ReadBytes(full, findings);
        var root = bytes is null ? null : SourceParser.Parse(bytes, findings);
        if (root is null)
            return new LoadedConfiguration(null, findings.InOrder(null)) { IsReadable = false };

        if (root.Kind == SourceKind.Object)
        {
            EnvironmentOverlay.Apply(root, GatewayBinding.Type.Describe(), environment, findings);
            LikeMembers.Fill(root, "saws", findings);
        }

        return Read(full, root, environment, findings);
    }

    /// <summary>Converts and checks what was put together of a file that was read before.</summary>
    /// <param name="path">The file.</param>
    /// <param name="root">What stands for it.</param>
    /// <param name="environment">Environment variables, for the credentials; none is laid over it once more.</param>
    internal static LoadedConfiguration Read(string path, SourceNode root, IReadOnlyDictionary<string, string> environment) => Read(Path.GetFullPath(path), root, environment, new Findings());

    private static LoadedConfiguration Read(string full, SourceNode root, IReadOnlyDictionary<string, string> environment, Findings findings)
    {
        GatewayBinding.Type.TryRead(root, "", new ReadContext(findings, Path.GetDirectoryName(full)!, environment.GetValueOrDefault("CREDENTIALS_DIRECTORY")), out var options);
        WarnOfOpenSecrets(full, findings);
        return new LoadedConfiguration(findings.ErrorCount == 0 ? options : null, findings.InOrder(root)) { SecretFiles = findings.SecretFiles, Source = root };
    }

    /// <summary>The environment variables of this process.</summary>
    public static IReadOnlyDictionary<string, string> Environment() =>
        System.Environment.GetEnvironmentVariables().Cast<DictionaryEntry>().ToDictionary(entry => (string)entry.Key, entry => (string?)entry.Value ?? "");

    /// <summary>The bytes of the file; null where they cannot be read, and the findings say why.</summary>
    internal static byte[]? ReadBytes(string path, Findings findings)
    {
        try
        {
            if (Directory.Exists(path))
                findings.Error("", $"{path} is a folder; name the configuration file in it");
            else if (!File.Exists(path))
                findings.Error("", $"{FileRights.Missing(path)}; name the configuration file");
            else if (new FileInfo(path).Length > LargestBytes)
                findings.Error("", $"{path} is larger than 16 MiB; is this the configuration file?");
            else
                return File.ReadAllBytes(path);
        }
        catch (UnauthorizedAccessException)
        {
            findings.Error("", FileRights.Denied(path));
        }
        catch (IOException e)
        {
            findings.Error("", $"{path} cannot be read: {e.Message}");
        }

        return null;
    }

    private static void WarnOfOpenSecrets(string path, Findings findings)
    {
        if (findings.InlineSecrets.Count == 0 || !FileRights.IsReadByAll(path))
            return;
        foreach (var secret in findings.InlineSecrets)
            findings.Warning(secret, $"stands in a file that everybody on this machine may read; take that right away ({FileRights.HowToClose(path)}), or keep the secret in a file of its own or an environment variable");
    }
}
