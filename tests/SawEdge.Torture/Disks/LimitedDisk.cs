using System.Globalization;
using SawEdge.TestSupport;

namespace SawEdge.Torture.Disks;

/// <summary>A small tmpfs that can be filled to the last byte and freed again.</summary>
internal sealed class LimitedDisk : IDisposable
{
    private readonly TempFolder _folder;

    private LimitedDisk(TempFolder folder) => _folder = folder;

    /// <summary>Where it is mounted.</summary>
    public string Path => _folder.Path;

    private string Filler => System.IO.Path.Combine(Path, "filler");

    /// <summary>Mounts one; where this machine does not let us, says so.</summary>
    /// <returns>Null where it cannot be had.</returns>
    public static async Task<LimitedDisk?> TryMountAsync(TrialRun run, int megabytes)
    {
        var folder = new TempFolder();
        var trouble = "there is no mount command";
        if (OperatingSystem.IsLinux() && Peer.Find("mount") is not null)
        {
            var (exit, output) = await Peer.RunAsync("mount", ["-t", "tmpfs", "-o", string.Create(CultureInfo.InvariantCulture, $"size={megabytes}m"), "sawedge-torture", folder.Path]);
            if (exit == 0)
                return new LimitedDisk(folder);
            trouble = output.Trim();
        }

        folder.Dispose();
        run.Say($"NOT DONE: a small disk of its own, which needs the right to mount a tmpfs ({trouble})");
        return null;
    }

    /// <summary>Takes all the room that is left.</summary>
    public void Fill()
    {
        using var file = new FileStream(Filler, FileMode.Append, FileAccess.Write, FileShare.None, bufferSize: 0);
        var some = new byte[4096];
        try
        {
            while (true)
                file.Write(some);
        }
        catch (IOException)
        {
            // Full.
        }
    }

    /// <summary>Gives the room back.</summary>
    public void Free() => File.Delete(Filler);

    /// <inheritdoc/>
    public void Dispose()
    {
        // Whoever used it has ended; lazily, should a process still be on its way out.
        Peer.RunAsync("umount", ["-l", Path]).GetAwaiter().GetResult();
        _folder.Dispose();
    }
}
