using System.Globalization;

namespace SawEdge.Gateway.Configuration;

/// <summary>
/// What the data folder lies on, looked at before anything is written there: a network share carries no history, for SQLite's write-ahead log
/// needs memory that all processes on the file share (https://www.sqlite.org/wal.html, "WAL does not work over a network filesystem"), and a lock or
/// a flush that a share only seems to make costs the history in the next power cut.
/// </summary>
internal static class DataDisk
{
    private const string Mounts = "/proc/self/mountinfo";

    // Types as Linux names them (/proc/filesystems; for those of FUSE, what the program that serves them calls itself).
    private static readonly HashSet<string> Shares = new(StringComparer.Ordinal)
    {
        "nfs", "nfs4", "cifs", "smb2", "smb3", "smbfs", "afs", "ceph", "ncpfs", "coda", "glusterfs", "lustre",
        "fuse.sshfs", "fuse.glusterfs", "fuse.ceph", "fuse.ceph-fuse", "fuse.davfs", "fuse.davfs2", "fuse.rclone", "fuse.s3fs", "fuse.smbnetfs", "fuse.curlftpfs",
    };

    /// <summary>What is wrong with the folder because it lies on a network share, and what would be right; null: it does not, or nobody can tell.</summary>
    /// <param name="folder">The data folder, which need not be there yet.</param>
    public static string? ShareTrouble(string folder)
    {
        var full = Path.GetFullPath(folder);
        string? kind = null;
        if (OperatingSystem.IsWindows())
            kind = full.StartsWith(@"\\", StringComparison.Ordinal) || new DriveInfo(Path.GetPathRoot(full)!).DriveType == DriveType.Network ? "a Windows share" : null;
        else if (Read(Mounts) is { } mounts && FileSystemOf(full, mounts) is { } named && Shares.Contains(named))
            kind = named;
        return kind is null
            ? null
            : $"{full} lies on a network share ({kind}), where a history does not survive a power cut and may be damaged; name a folder on a disk of this machine, and copy backups to the share ('sawedge history backup')";
    }

    /// <summary>What is wrong with the disk because it has less room than the budget of the history; null: it has enough, or nobody can tell.</summary>
    /// <param name="folder">The data folder, which need not be there yet.</param>
    /// <param name="budgetBytes">What the history may take, with what it takes already.</param>
    /// <param name="historyFile">Name of the history's file in the folder.</param>
    public static string? RoomTrouble(string folder, long budgetBytes, string historyFile)
    {
        try
        {
            var full = Path.GetFullPath(folder);
            var existing = full;
            while (!Directory.Exists(existing) && Path.GetDirectoryName(existing) is { } above)
                existing = above;
            var file = Path.Combine(full, historyFile);
            var taken = SizeOf(file) + SizeOf(file + "-wal");
            var free = new DriveInfo(existing).AvailableFreeSpace;
            return free + taken >= budgetBytes
                ? null
                : string.Create(CultureInfo.InvariantCulture, $"the disk of {full} has {free / 1e9:0.0} GB free{(taken >= 50_000_000 ? $" and the history takes {taken / 1e9:0.0} GB" : "")}, less than history.budget, {budgetBytes / 1e9:0.0} GB: it may be full before room is made; lower history.budget, free the disk, or name a folder on a larger one");
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
        {
            // Whether the folder can be used at all is looked at, and said, where it is opened.
            return null;
        }
    }

    /// <summary>The type of the file system that a path lies on.</summary>
    /// <param name="path">A full path; what of it is not there yet lies where the rest does.</param>
    /// <param name="mounts">What <c>/proc/self/mountinfo</c> holds (proc_pid_mountinfo(5)).</param>
    /// <returns>Null where no mount holds it.</returns>
    public static string? FileSystemOf(string path, string mounts)
    {
        var real = WithoutLinks(path);
        var (type, length) = ((string?)null, -1);
        foreach (var line in mounts.Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            // 36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw: any number of optional fields before the lone hyphen.
            var fields = line.Split(' ');
            var hyphen = Array.IndexOf(fields, "-", Math.Min(6, fields.Length));
            if (hyphen < 0 || hyphen + 1 >= fields.Length)
                continue;
            var point = Plain(fields[4]);

            // Of two on one place the later lies on top.
            if (point.Length >= length && (real == point || point == "/" || real.StartsWith(point + "/", StringComparison.Ordinal)))
                (type, length) = (fields[hyphen + 1], point.Length);
        }

        return type;
    }

    // Blank, tab, line end and backslash stand there as \040, \011, \012 and \134.
    private static string Plain(string field)
    {
        if (!field.Contains('\\', StringComparison.Ordinal))
            return field;
        return field.Replace("\\040", " ", StringComparison.Ordinal).Replace("\\011", "\t", StringComparison.Ordinal).Replace("\\012", "\n", StringComparison.Ordinal).Replace("\\134", "\\", StringComparison.Ordinal);
    }

    // A link may lead to a share. Whatever is not there, or may not be looked at, stays as it is written.
    private static string WithoutLinks(string path)
    {
        var real = "/";
        foreach (var part in path.Split('/', StringSplitOptions.RemoveEmptyEntries))
        {
            real = Path.Combine(real, part);
            try
            {
                if (new FileInfo(real).LinkTarget is not null && File.ResolveLinkTarget(real, returnFinalTarget: true) is { } target)
                    real = target.FullName;
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException)
            {
                // As above.
            }
        }

        return real;
    }

    private static string? Read(string file)
    {
        try
        {
            return File.Exists(file) ? File.ReadAllText(file) : null;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }

    private static long SizeOf(string file) => File.Exists(file) ? new FileInfo(file).Length : 0;
}
