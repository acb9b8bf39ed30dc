using System.Globalization;
using SawEdge.Gateway.Tests.Acquisition.Recordings;
using SawEdge.Gateway.Tests.Export;
using SawEdge.Gateway.Tests.History;
using SawEdge.Gateway.Tests.Processing;

namespace SawEdge.Gateway.Tests;

/// <summary>What this assembly does when a test starts it as a process of its own.</summary>
internal static class TestHost
{
    /// <summary>Path of this assembly, for <c>dotnet PATH ...</c>.</summary>
    public static string AssemblyPath => typeof(TestHost).Assembly.Location;

    /// <summary>The program that runs it.</summary>
    public static string Dotnet => Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet" ? Environment.ProcessPath! : "dotnet";

    public static async Task<int> Main(string[] args)
    {
        switch (args)
        {
            case ["append", var folder]:
                await AppendingProcess.RunAsync(folder);
                return 0;
            case ["record", var folder]:
                await RecordingProcess.RunAsync(folder);
                return 0;
            case ["alarm", var folder]:
                await AlarmingProcess.RunAsync(folder);
                return 0;
            case ["sample", var folder, var first]:
                await SamplingProcess.RunAsync(folder, int.Parse(first, CultureInfo.InvariantCulture));
                return 0;
            case ["export", var folder, var format, var file]:
                await ExportingProcess.RunAsync(folder, format, file);
                return 0;
            case ["backup" or "restore", var folder, var file]:
                return BackupProcess.Run(args[0], folder, file);
            default:
                await Console.Error.WriteLineAsync("usage: append FOLDER, alarm FOLDER, sample FOLDER FIRST, export FOLDER FORMAT FILE, backup FOLDER FILE, restore FOLDER FILE or record FOLDER (started by the tests)");
                return 2;
        }
    }
}
