using System.Diagnostics;
using SharpFuzz;

namespace SawEdge.Fuzz;

/// <summary>
/// Copies this program, makes the copies of what is to be tested count the branches they take, and starts the copy: the build's own
/// files are left as they are.
/// </summary>
internal static class Instrumentation
{
    public const string Mark = "SAWEDGE_FUZZ_COPY";

    private static readonly string[] Assemblies = ["SawEdge.Modbus.dll", "sawedge.dll", "SawEdge.Core.dll"];
    private static readonly string[] Namespaces = ["SawEdge.Modbus.", "SawEdge.Gateway.Acquisition.", "SawEdge.Gateway.Formats.", "SawEdge.Core.Signals."];

    public static async Task<int> RunCopyAsync(string[] arguments)
    {
        var folder = Directory.CreateTempSubdirectory("sawedge-fuzz-");
        try
        {
            Copy(new DirectoryInfo(AppContext.BaseDirectory), folder);
            foreach (var assembly in Assemblies)
                Fuzzer.Instrument(Path.Combine(folder.FullName, assembly), type => Namespaces.Any(name => type.StartsWith(name, StringComparison.Ordinal)), Options.Value);

            var start = new ProcessStartInfo(Environment.ProcessPath ?? "dotnet");
            if (Path.GetFileNameWithoutExtension(start.FileName) != "SawEdge.Fuzz")
                start.ArgumentList.Add(Path.Combine(folder.FullName, "SawEdge.Fuzz.dll"));
            else
                start.FileName = Path.Combine(folder.FullName, Path.GetFileName(start.FileName));
            foreach (var argument in arguments)
                start.ArgumentList.Add(argument);
            start.Environment[Mark] = AppContext.BaseDirectory;
            using var process = Process.Start(start)!;
            await process.WaitForExitAsync();
            return process.ExitCode;
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static void Copy(DirectoryInfo from, DirectoryInfo to)
    {
        foreach (var file in from.GetFiles())
            file.CopyTo(Path.Combine(to.FullName, file.Name));
        foreach (var folder in from.GetDirectories())
            Copy(folder, to.CreateSubdirectory(folder.Name));
    }
}
