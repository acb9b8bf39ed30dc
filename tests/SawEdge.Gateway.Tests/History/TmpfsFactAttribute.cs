using System.Diagnostics;
using SawEdge.TestSupport;

namespace SawEdge.Gateway.Tests.History;

/// <summary>A test that needs a small disk of its own, which only root can mount; elsewhere it is skipped with the reason.</summary>
[AttributeUsage(AttributeTargets.Method)]
public sealed class TmpfsFactAttribute : FactAttribute
{
    private static readonly Lazy<string?> Trouble = new(Try);

    public TmpfsFactAttribute()
    {
        if (Trouble.Value is { } trouble)
            Skip = $"needs the right to mount a tmpfs: {trouble}";
    }

    /// <summary>Mounts an empty disk.</summary>
    public static SmallDisk Mount(int megabytes) => new(megabytes);

    private static string? Try()
    {
        if (!OperatingSystem.IsLinux() || Peer.Find("mount") is null)
            return "there is no mount command";
        try
        {
            using var disk = new SmallDisk(1);
            return null;
        }
        catch (InvalidOperationException e)
        {
            return e.Message;
        }
    }
}

/// <summary>A tmpfs of a fixed size, unmounted with the test.</summary>
public sealed class SmallDisk : IDisposable
{
    private readonly TempFolder _folder = new();

    /// <summary>Mounts it.</summary>
    /// <exception cref="InvalidOperationException">That is not allowed here.</exception>
    public SmallDisk(int megabytes)
    {
        if (Run("mount", "-t", "tmpfs", "-o", $"size={megabytes}m", "sawedge-test", Path) is { } trouble)
        {
            _folder.Dispose();
            throw new InvalidOperationException(trouble);
        }
    }

    /// <summary>Where it is mounted.</summary>
    public string Path => _folder.Path;

    /// <inheritdoc/>
    public void Dispose()
    {
        // Lazily: a process that another test starts at this moment holds a copy of every open file for an instant.
        if (Run("umount", "--lazy", Path) is { } trouble)
            throw new InvalidOperationException(trouble);
        _folder.Dispose();
    }

    private static string? Run(string program, params string[] arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(program, arguments) { RedirectStandardError = true })!;
        var error = process.StandardError.ReadToEnd();
        process.WaitForExit();
        return process.ExitCode == 0 ? null : error.Trim();
    }
}
