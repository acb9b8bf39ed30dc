using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration;

/// <summary>What only shows on the machine itself: folders that cannot be written, files that are not there. Run by <c>check</c>; leaves nothing behind.</summary>
public static class FolderChecks
{
    // History/HistoryDatabase has the name too; this room knows nothing of that one.
    private const string HistoryFile = "history.db";

    /// <summary>Looks at every folder and file that the configuration names, except those of secrets, which were read already.</summary>
    public static IReadOnlyList<Finding> Run(GatewayOptions options)
    {
        var findings = new Findings();

        // A share is not touched: where its server is away, that may take minutes.
        if (DataDisk.ShareTrouble(options.DataFolder) is { } share)
        {
            findings.Error("dataFolder", share);
        }
        else
        {
            if (Writable(findings, "dataFolder", options.DataFolder) && DataDisk.RoomTrouble(options.DataFolder, options.History.BudgetBytes, HistoryFile) is { } room)
                findings.Warning("dataFolder", room);
        }

        if (options.Record is { } record)
            Writable(findings, "record.folder", record.Folder);
        for (var i = 0; i < options.DailyFiles.Count; i++)
            Writable(findings, $"dailyFiles[{i}].folder", options.DailyFiles[i].Folder);
        if (options.JobsFile is not null)
            Readable(findings, "jobsFile", options.JobsFile);
        return findings.InOrder(null);
    }

    private static bool Writable(Findings findings, string path, string folder)
    {
        try
        {
            if (File.Exists(folder))
            {
                findings.Error(path, $"{folder} is a file; name a folder");
                return false;
            }

            // A folder that is not there yet is made at the start: the nearest one above it must let that happen.
            var existing = folder;
            while (!Directory.Exists(existing))
            {
                if (File.Exists(existing))
                {
                    findings.Error(path, $"{existing} is a file, so {folder} cannot be a folder; name another one");
                    return false;
                }

                existing = Path.GetDirectoryName(existing) ?? throw new DirectoryNotFoundException($"no part of {folder} exists");
            }

            var probe = Path.Combine(existing, $".sawedge-check-{Guid.NewGuid():N}");
            using (new FileStream(probe, FileMode.CreateNew, FileAccess.Write, FileShare.None, 1, FileOptions.DeleteOnClose))
            {
            }

            return true;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            findings.Error(path, $"{folder} cannot be written by this user ({e.Message}); give the user that runs the gateway the right, or name another folder");
            return false;
        }
    }

    private static void Readable(Findings findings, string path, string file)
    {
        try
        {
            if (Directory.Exists(file))
                findings.Error(path, $"{file} is a folder; name the file");
            else if (!File.Exists(file))
                findings.Error(path, FileRights.Missing(file));
            else
                File.OpenRead(file).Dispose();
        }
        catch (UnauthorizedAccessException)
        {
            findings.Error(path, FileRights.Denied(file));
        }
        catch (IOException e)
        {
            findings.Error(path, $"{file} cannot be read: {e.Message}");
        }
    }
}
