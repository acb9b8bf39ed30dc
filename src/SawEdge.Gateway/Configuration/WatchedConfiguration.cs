using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration;

/// <summary>A configuration file in use, with the files that hold its secrets: looked at for changes, and read again when one has changed.</summary>
/// <remarks>A file that is just being written has changed again at the next look; it is read when two looks in a row find it the same.</remarks>
public sealed class WatchedConfiguration
{
    private readonly string _path;
    private readonly IReadOnlyDictionary<string, string> _environment;
    private IReadOnlyList<string> _secrets;
    private string _read;
    private string _seen;

    /// <summary>Watches a configuration that was just read.</summary>
    /// <param name="path">The file.</param>
    /// <param name="environment">Environment variables that lie over it.</param>
    /// <param name="loaded">What came of reading it.</param>
    public WatchedConfiguration(string path, IReadOnlyDictionary<string, string> environment, LoadedConfiguration loaded)
    {
        _path = System.IO.Path.GetFullPath(path);
        _environment = environment;
        Start = loaded;
        _secrets = loaded.SecretFiles;
        _read = _seen = Stamp();
    }

    /// <summary>The file.</summary>
    public string Path => _path;

    /// <summary>What came of reading it for the first time.</summary>
    internal LoadedConfiguration Start { get; }

    /// <summary>Converts and checks what was put together of this file as it is and as it was.</summary>
    internal LoadedConfiguration Read(SourceNode root) => ConfigurationFile.Read(_path, root, _environment);

    /// <summary>Looks, and reads if something changed since it was read last.</summary>
    /// <returns>What came of reading; null where nothing changed or it is not at rest yet.</returns>
    public LoadedConfiguration? LookAgain()
    {
        var stamp = Stamp();
        var isAtRest = stamp == _seen;
        _seen = stamp;
        if (!isAtRest || stamp == _read)
            return null;
        var loaded = ConfigurationFile.Load(_path, _environment);

        // A file that cannot be read as JSON names no secrets; those that were known may still be what is mended next.
        if (loaded.IsReadable)
            _secrets = loaded.SecretFiles;
        _read = _seen = Stamp();
        return loaded;
    }

    private string Stamp() => string.Join('\n', _secrets.Prepend(_path).Select(Stamp));

    // A secret is often a link to a file that is exchanged as a whole.
    private static string Stamp(string path)
    {
        try
        {
            var file = new FileInfo(path);
            var target = file.ResolveLinkTarget(returnFinalTarget: true) as FileInfo ?? file;
            return target.Exists ? FormattableString.Invariant($"{target.FullName} {target.LastWriteTimeUtc.Ticks} {target.Length}") : "";
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // What keeps it from being looked at is said by whoever reads it.
            return e.Message;
        }
    }
}
