using System.Globalization;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.History;

/// <summary>A damaged history that was set aside.</summary>
/// <param name="File">Where it lies now, full path.</param>
/// <param name="Finding">What is wrong with it.</param>
public sealed record DamagedHistory(string File, string Finding);

/// <summary>
/// The files beside the history in a data folder: histories that were set aside, which nobody ever deletes, and the marks by which the next
/// start knows what it has to do. Only for whoever owns the folder, where nothing else is said.
/// </summary>
internal static class AsideFiles
{
    /// <summary>How the names of damaged histories begin that nobody has dealt with yet.</summary>
    public const string Damaged = "history-damaged-";

    /// <summary>How the names of damaged histories begin in whose place a backup was put.</summary>
    public const string Settled = "history-settled-";

    /// <summary>How the names of histories begin that were whole when a backup was put in their place.</summary>
    public const string Replaced = "history-replaced-";

    /// <summary>A backup that was checked and is only to be renamed to be the history.</summary>
    public const string Restored = "history-restored.db";

    private const string Mark = "history.distrusted";

    // The log first would leave a history without its last transactions if the power went in between.
    private static readonly string[] Endings = ["", "-wal", "-shm"];

    /// <summary>Sets the history aside with its log. Nothing may have it open.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="beginning">How the name begins.</param>
    /// <param name="now">The time in the name.</param>
    /// <returns>Its full path now.</returns>
    /// <exception cref="HistoryException">It cannot be renamed.</exception>
    public static string Move(string folder, string beginning, DateTimeOffset now)
    {
        try
        {
            var name = FreeName(folder, string.Create(CultureInfo.InvariantCulture, $"{beginning}{now.UtcDateTime:yyyyMMdd'T'HHmmss'Z'}"));
            foreach (var ending in Endings)
            {
                var from = Path.Combine(folder, HistoryDatabase.FileName + ending);
                if (File.Exists(from))
                    File.Move(from, name + ending);
            }

            FolderFlush.Run(folder);
            return name;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new HistoryException($"The history in '{folder}' cannot be set aside: {e.Message} Give the gateway's user the right to write there.", e);
        }
    }

    /// <summary>The histories in a folder whose names begin so, by name and so by time; for anybody.</summary>
    /// <exception cref="IOException">The folder cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">The folder cannot be read.</exception>
    public static IReadOnlyList<string> Find(string folder, string beginning) =>
        Directory.Exists(folder) ? [.. Directory.EnumerateFiles(folder, beginning + "*.db").Order(StringComparer.Ordinal)] : [];

    /// <summary>Takes note that a backup stands in the place of damaged histories: they stay, and are no trouble any more.</summary>
    public static void Settle(string folder)
    {
        foreach (var file in Find(folder, Damaged))
        {
            var name = FreeName(folder, Settled + Path.GetFileNameWithoutExtension(file)[Damaged.Length..]);
            foreach (var ending in Endings.Where(ending => File.Exists(file + ending)))
                File.Move(file + ending, name + ending);
        }
    }

    /// <summary>Ends what a loss of power broke off: a history that went aside without its log, a backup that was not yet in its place.</summary>
    /// <exception cref="HistoryException">It cannot be renamed.</exception>
    public static void Finish(string folder)
    {
        var (restored, history) = (Path.Combine(folder, Restored), Path.Combine(folder, HistoryDatabase.FileName));
        if (File.Exists(history))
            return;

        // The log of a history that is not there any more must never meet another one.
        if (File.Exists(history + "-wal"))
            Move(folder, Replaced, File.GetLastWriteTimeUtc(history + "-wal"));
        if (!File.Exists(restored))
            return;
        try
        {
            File.Move(restored, history);
            FolderFlush.Run(folder);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new HistoryException($"The backup '{restored}' cannot be put in the history's place: {e.Message} Give the gateway's user the right to write there.", e);
        }
    }

    /// <summary>Leaves a mark that damage was met in the history, so that the next start looks through all of it; for anybody.</summary>
    /// <returns>Whether the mark is on the disk.</returns>
    public static bool Distrust(string folder)
    {
        try
        {
            using var stream = new FileStream(Path.Combine(folder, Mark), FileMode.Create, FileAccess.Write);
            stream.Flush(flushToDisk: true);
            return true;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return false;
        }
    }

    /// <summary>Whether damage was met in the history.</summary>
    public static bool IsDistrusted(string folder) => File.Exists(Path.Combine(folder, Mark));

    /// <summary>Takes the mark away.</summary>
    /// <exception cref="HistoryException">It cannot be removed.</exception>
    public static void Trust(string folder)
    {
        try
        {
            File.Delete(Path.Combine(folder, Mark));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new HistoryException($"'{Path.Combine(folder, Mark)}' cannot be removed: {e.Message} Give the gateway's user the right to write there.", e);
        }
    }

    private static string FreeName(string folder, string name)
    {
        var path = Path.Combine(folder, name + ".db");
        for (var number = 2; Endings.Any(ending => File.Exists(path + ending)); number++)
            path = Path.Combine(folder, string.Create(CultureInfo.InvariantCulture, $"{name}-{number}.db"));
        return path;
    }
}
