using System.Globalization;
using System.Runtime;
using System.Runtime.InteropServices;
using SawEdge.Gateway.Commands.Histories;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.Hosting;

namespace SawEdge.Gateway.Commands.Support;

/// <summary>The machine and the program, as whoever runs the command sees them.</summary>
/// <param name="subject">The gateway.</param>
/// <param name="environment">Environment variables, of which only the names are told.</param>
/// <param name="time">Clock and time zone.</param>
internal sealed class MachineFacts(SupportSubject subject, IReadOnlyDictionary<string, string> environment, TimeProvider time)
{
    /// <summary>Writes them.</summary>
    public Task WriteAsync(TextWriter text)
    {
        var page = new TextPage(text);
        page.Pair("sawedge", GatewayFigures.Version);
        page.Pair("runtime", $"{RuntimeInformation.FrameworkDescription}, {RuntimeInformation.RuntimeIdentifier}, {(GCSettings.IsServerGC ? "server" : "workstation")} collector");
        page.Pair("system", $"{RuntimeInformation.OSDescription}, {RuntimeInformation.OSArchitecture}{(environment.ContainsKey("DOTNET_RUNNING_IN_CONTAINER") || File.Exists("/.dockerenv") ? ", in a container" : "")}");
        page.Pair("run as", Environment.IsPrivilegedProcess ? "an administrator" : "no administrator");
        page.Pair("cores", FormattableString.Invariant($"{Environment.ProcessorCount}"));
        page.Pair("memory for a process", SizeText.Of(GC.GetGCMemoryInfo().TotalAvailableMemoryBytes));
        foreach (var line in Lines("/proc/meminfo").Where(line => line.StartsWith("Mem", StringComparison.Ordinal) || line.StartsWith("Swap", StringComparison.Ordinal)))
            page.Pair(line.Split(':')[0], line.Split(':')[^1].Trim());
        page.Pair("load of 1, 5, 15 minutes", Lines("/proc/loadavg").FirstOrDefault());
        page.Pair("machine runs for", Status.SpanText.Of(TimeSpan.FromMilliseconds(Environment.TickCount64)));
        page.Pair("clock", string.Create(CultureInfo.InvariantCulture, $"{time.GetUtcNow():yyyy-MM-dd HH:mm:ss}Z"));
        page.Pair("clock set from the network", Synchronized());
        page.Pair("time zone of the machine", time.LocalTimeZone.Id);
        page.Pair("time zone of the plant", subject.Folder?.Options?.TimeZone.Id);
        page.Pair("language", CultureInfo.InstalledUICulture.Name);
        page.Pair("variables set", string.Join(", ", environment.Keys.Where(name => name.StartsWith(EnvironmentOverlay.Prefix, StringComparison.OrdinalIgnoreCase) || name.StartsWith("DOTNET_", StringComparison.Ordinal)).Order(StringComparer.Ordinal)));
        if (subject.ConfigFile is { } config)
            Told(page, "configuration", Path.GetFullPath(config));
        if (subject.Folder is { } folder)
            Data(page, Path.GetFullPath(folder.Folder));
        return Task.CompletedTask;
    }

    private static void Data(TextPage page, string folder)
    {
        if (!Directory.Exists(folder))
        {
            page.Pair("data folder", $"{folder}, which is not there");
            return;
        }

        var drive = new DriveInfo(folder);
        page.Pair("data folder", $"{folder}{Rights(folder)}; {drive.DriveFormat}, {SizeText.Of(drive.AvailableFreeSpace)} free of {SizeText.Of(drive.TotalSize)}");
        foreach (var file in Directory.EnumerateFiles(folder).Order(StringComparer.Ordinal).Take(200))
            Told(page, "  " + Path.GetFileName(file), file);
    }

    private static void Told(TextPage page, string name, string path)
    {
        var file = new FileInfo(path);
        page.Pair(name, string.Create(CultureInfo.InvariantCulture, $"{(name == "configuration" ? path + ", " : "")}{SizeText.Of(file.Length)}, changed {file.LastWriteTimeUtc:yyyy-MM-dd HH:mm}Z{Rights(path)}"));
    }

    private static string Rights(string path) => OperatingSystem.IsWindows() ? "" : $" ({Convert.ToString((int)File.GetUnixFileMode(path), 8)})";

    // systemd-timesyncd leaves this mark; others leave none that everybody may read.
    private static string Synchronized() =>
        File.Exists("/run/systemd/timesync/synchronized") ? "yes, by systemd-timesyncd" : "not known";

    private static string[] Lines(string path) => File.Exists(path) ? File.ReadAllLines(path) : [];
}
