using System.IO.MemoryMappedFiles;
using SawEdge.TestSupport;

namespace SawEdge.Torture.Disks;

/// <summary>How the disk under a gateway's data folder behaves.</summary>
internal enum DiskState
{
    /// <summary>It is well.</summary>
    Good,

    /// <summary>Whatever would write is refused.</summary>
    ReadOnly,

    /// <summary>Reads, writes and syncs fail now and then, and half of what failed may be there.</summary>
    Failing,

    /// <summary>What is written is taken, and syncs fail now and then.</summary>
    Unsyncing,
}

/// <summary>
/// Lets the disk under a running gateway fail: a library that the C compiler makes and the loader puts between the program (its SQLite included)
/// and the system. Device mapper targets would do that in the kernel; they are seldom to be had in a container.
/// </summary>
internal sealed class FailingDisk : IDisposable
{
    private const string Compiler = "gcc";

    private readonly TempFolder _folder = new();
    private readonly MemoryMappedFile _file;
    private readonly MemoryMappedViewAccessor _control;
    private readonly string _files;

    private FailingDisk(string files, int seed)
    {
        _files = files;
        _file = MemoryMappedFile.CreateFromFile(_folder.File("control"), FileMode.Create, null, 4 * sizeof(uint));
        _control = _file.CreateViewAccessor();
        _control.Write(2 * sizeof(uint), (uint)seed);
    }

    /// <summary>Calls that were made to fail so far.</summary>
    public uint Failed => _control.ReadUInt32(3 * sizeof(uint));

    /// <summary>What a gateway on this disk is started with.</summary>
    public IReadOnlyDictionary<string, string> Environment => new Dictionary<string, string>(StringComparer.Ordinal)
    {
        ["LD_PRELOAD"] = Library,
        ["TORTURE_DISK_CONTROL"] = _folder.File("control"),
        ["TORTURE_DISK_FILES"] = _files,
    };

    private string Library => _folder.File("failing_disk.so");

    /// <summary>Makes one; where this machine has no compiler, says so.</summary>
    /// <param name="run">Seed, and where to say it.</param>
    /// <param name="files">The beginning of the paths of all files on it.</param>
    /// <returns>Null where it cannot be had.</returns>
    public static async Task<FailingDisk?> TryMakeAsync(TrialRun run, string files)
    {
        if (!OperatingSystem.IsLinux() || Peer.Find(Compiler) is null)
        {
            run.Say($"NOT DONE: I/O errors and a disk that turns read-only, which need the compiler {Compiler}");
            return null;
        }

        var disk = new FailingDisk(files, run.Seed);
        var (exit, output) = await Peer.RunAsync(Compiler, ["-O2", "-shared", "-fPIC", "-o", disk.Library, Path.Combine(AppContext.BaseDirectory, "Disks", "failing_disk.c"), "-ldl"]);
        if (exit == 0)
            return disk;
        disk.Dispose();
        throw new InvalidOperationException($"{Compiler}: {output}");
    }

    /// <summary>Lets it behave so from now on.</summary>
    /// <param name="state">How.</param>
    /// <param name="oneIn">One call in so many fails, where some do.</param>
    public void Set(DiskState state, int oneIn = 1)
    {
        _control.Write(sizeof(uint), (uint)oneIn);
        _control.Write(0, (uint)state);
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _control.Dispose();
        _file.Dispose();
        _folder.Dispose();
    }
}
