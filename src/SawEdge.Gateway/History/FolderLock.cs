using System.Globalization;

namespace SawEdge.Gateway.History;

/// <summary>
/// Ownership of a data folder by one process at a time. The lock is the operating system's, on an open file, so it ends
/// with the process however that ends; the process id beside it is only there to be named in a message.
/// </summary>
internal sealed class FolderLock : IDisposable
{
    private const string LockName = "gateway.lock";

    // A file of its own: a file opened without sharing cannot be read by the one who wants to know who holds it.
    private const string OwnerName = "gateway.pid";

    private readonly FileStream _lock;
    private readonly string _ownerPath;

    private FolderLock(FileStream heldLock, string ownerPath, bool wasLeftBehind)
    {
        _lock = heldLock;
        _ownerPath = ownerPath;
        WasLeftBehind = wasLeftBehind;
    }

    /// <summary>Whether the owner before this one ended without giving the folder back, as in a loss of power.</summary>
    public bool WasLeftBehind { get; }

    /// <summary>Takes the folder.</summary>
    /// <exception cref="HistoryInUseException">Another process, or another part of this one, has it.</exception>
    /// <exception cref="HistoryException">The folder cannot be written.</exception>
    public static FolderLock Take(string folder)
    {
        var ownerPath = Path.Combine(folder, OwnerName);
        FileStream? held = null;
        try
        {
            Directory.CreateDirectory(folder);
            held = new FileStream(Path.Combine(folder, LockName), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None);
            var wasLeftBehind = File.Exists(ownerPath);
            File.WriteAllText(ownerPath, Environment.ProcessId.ToString(CultureInfo.InvariantCulture) + "\n");
            return new FolderLock(held, ownerPath, wasLeftBehind);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            if (held is null && e is IOException && IsHeld(folder))
                throw new HistoryInUseException(folder, ReadOwner(ownerPath));
            held?.Dispose();
            throw new HistoryException($"The data folder '{folder}' cannot be written: {e.Message} Give the gateway's user the right to write there, or choose another folder.", e);
        }
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        try
        {
            File.Delete(_ownerPath);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // A stale process id misleads nobody: it is read only while another process holds the lock, and that one
            // has written its own by then. The lock itself is released below.
        }

        _lock.Dispose();
    }

    /// <summary>Whether a process owns the folder at this moment.</summary>
    public static bool IsHeld(string folder)
    {
        try
        {
            using var probe = new FileStream(Path.Combine(folder, LockName), FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
            return false;
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException or UnauthorizedAccessException)
        {
            return false;
        }
        catch (IOException)
        {
            return true;
        }
    }

    /// <summary>Since when a process owns the folder, by the file system's clock; null where none does, or that cannot be told.</summary>
    public static DateTimeOffset? HeldSince(string folder)
    {
        var owner = Path.Combine(folder, OwnerName);
        return IsHeld(folder) && File.Exists(owner) ? new DateTimeOffset(File.GetLastWriteTimeUtc(owner), TimeSpan.Zero) : null;
    }

    private static int? ReadOwner(string path)
    {
        try
        {
            return int.TryParse(File.ReadAllText(path).Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var owner) ? owner : null;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }
}
