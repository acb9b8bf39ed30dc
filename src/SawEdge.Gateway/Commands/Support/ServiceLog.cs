using System.ComponentModel;
using System.Diagnostics;
using SawEdge.Gateway.Hosting;

namespace SawEdge.Gateway.Commands.Support;

/// <summary>The service manager's log of the gateway.</summary>
/// <param name="program">The program that shows it.</param>
internal sealed class ServiceLog(string program = "journalctl")
{
    /// <summary>Lines that are taken, the last ones.</summary>
    public const int MostLines = 2000;

    private static readonly string Advice = OperatingSystem.IsWindows()
        ? $"write the event log to a file, in PowerShell: Get-WinEvent -FilterHashtable @{{LogName='Application'; ProviderName='{WindowsService.EventSource}'}} -MaxEvents {MostLines} | Format-List TimeCreated, LevelDisplayName, Message | Out-File log.txt -Encoding utf8; then name that file with --log"
        : "where the gateway logs to a file, name it with --log";

    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    /// <summary>The last lines.</summary>
    /// <param name="unit">Name of the service.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="PartMissingException">There are none; the message says why, and what else can be done.</exception>
    public async Task<string> ReadAsync(string unit, CancellationToken cancellation)
    {
        var start = new ProcessStartInfo(program) { RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false };
        foreach (var argument in new[] { "--unit", unit, "--lines", FormattableString.Invariant($"{MostLines}"), "--no-pager", "--quiet", "--utc", "--output", "short-iso" })
            start.ArgumentList.Add(argument);
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        patience.CancelAfter(Patience);
        Process process;
        try
        {
            process = Process.Start(start) ?? throw new PartMissingException($"{program} cannot be started; {Advice}");
        }
        catch (Win32Exception)
        {
            throw new PartMissingException($"there is no {program} here, as in a container or under Windows; {Advice}");
        }

        using (process)
        {
            try
            {
                var (output, error) = (process.StandardOutput.ReadToEndAsync(patience.Token), process.StandardError.ReadToEndAsync(patience.Token));
                await process.WaitForExitAsync(patience.Token);
                var (lines, words) = (await output, (await error).Trim());
                return lines.Length > 0 ? lines
                    : throw new PartMissingException($"{program} shows nothing of the service '{unit}'{(words.Length > 0 ? $" ({words})" : "; does whoever asks have the right to see it (group systemd-journal, or root)?")}; {Advice}");
            }
            catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
            {
                throw new PartMissingException($"{program} did not end within {Patience.TotalSeconds} s; {Advice}");
            }
            finally
            {
                if (!process.HasExited)
                    process.Kill(entireProcessTree: true);
            }
        }
    }

    /// <summary>The last lines of a file.</summary>
    /// <param name="path">The file; somebody may be writing to it.</param>
    /// <param name="cancellation">Breaks off.</param>
    public static async Task<string> TailAsync(string path, CancellationToken cancellation)
    {
        // Lines are seldom longer than that on average.
        const int MostBytes = MostLines * 500;
        await using var stream = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete);
        var begins = Math.Max(0, stream.Length - MostBytes);
        stream.Seek(begins, SeekOrigin.Begin);
        using var reader = new StreamReader(stream);
        var lines = (await reader.ReadToEndAsync(cancellation)).Split('\n');

        // The first is only the end of one where the file is longer.
        return string.Join('\n', lines.Skip(Math.Max(begins > 0 ? 1 : 0, lines.Length - MostLines - 1)));
    }
}
