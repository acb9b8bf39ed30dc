using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Tests.History;

/// <summary>Writes a backup, or restores one, and stands still in the middle of copying until it is killed.</summary>
internal static class BackupProcess
{
    public static int Run(string what, string folder, string file)
    {
        void Stand(long done, long all)
        {
            if (done == all)
                return;
            Console.Out.WriteLine("in the middle");
            Console.Out.Flush();
            Console.In.ReadToEnd();
        }

        if (what == "backup")
            HistoryBackup.Write(folder, file, replace: true, Stand, CancellationToken.None);
        else
            HistoryBackup.Restore(folder, file, DateTimeOffset.UnixEpoch, Stand, CancellationToken.None);
        return 0;
    }
}
