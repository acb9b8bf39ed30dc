using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands;

/// <summary>The folder that a replay writes into: a history of its own, and the tables of its cycles and alarms.</summary>
internal static class ReplayFolder
{
    /// <summary>Name of the table of the cycles.</summary>
    public const string CyclesFile = "cycles.csv";

    /// <summary>Name of the table of the alarms.</summary>
    public const string AlarmsFile = "alarms.csv";

    // What a replay writes, and nothing else: only these may be replaced.
    private static readonly string[] Written =
        [HistoryDatabase.FileName, HistoryDatabase.FileName + "-wal", HistoryDatabase.FileName + "-shm", CyclesFile, AlarmsFile];

    /// <summary>Makes the folder where it is not there, and sees to it that it holds no earlier replay.</summary>
    /// <exception cref="CommandException">It cannot be written, is in use, or holds an earlier replay that may not be replaced.</exception>
    public static void Prepare(string folder, bool overwrite)
    {
        if (File.Exists(folder))
            throw new CommandException($"--out {folder}: this is a file; name a folder.");
        var there = Written.Select(name => Path.Combine(folder, name)).Where(File.Exists).ToList();
        if (there.Count > 0 && !overwrite)
            throw new CommandException($"--out {folder}: the folder holds {Path.GetFileName(there[0])} already; name another folder, or add --overwrite to replace it.");

        try
        {
            Directory.CreateDirectory(folder);

            // Taking the lock also shows that the folder can be written and that no gateway works in it.
            using (FolderLock.Take(folder))
                there.ForEach(File.Delete);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or HistoryException)
        {
            throw new CommandException($"--out {folder}: {e.Message}", e);
        }
    }
}
