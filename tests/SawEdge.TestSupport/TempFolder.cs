namespace SawEdge.TestSupport;

/// <summary>A folder of its own for one test, removed with it.</summary>
public sealed class TempFolder : IDisposable
{
    /// <summary>Its full path.</summary>
    public string Path { get; } = Directory.CreateTempSubdirectory("sawedge-test-").FullName;

    /// <summary>The path of a file in it.</summary>
    public string File(string name) => System.IO.Path.Combine(Path, name);

    /// <inheritdoc/>
    public void Dispose() => Directory.Delete(Path, recursive: true);
}
