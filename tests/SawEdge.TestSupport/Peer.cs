using System.Collections.Concurrent;
using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using System.Text;

namespace SawEdge.TestSupport;

/// <summary>A real program started for one test on loopback and ended with it.</summary>
public sealed class Peer : IAsyncDisposable
{
    // Test processes that run at the same time begin at different ports.
    private const int FirstPort = 10_000;
    private const int Ports = 22_000;
    private static int _ports = Environment.ProcessId * 997;

    private readonly Process _process;
    private readonly ConcurrentQueue<string> _output = new();

    private Peer(Process process) => _process = process;

    /// <summary>Process id.</summary>
    public int Id => _process.Id;

    /// <summary>Whether it has ended.</summary>
    public bool HasExited => _process.HasExited;

    /// <summary>Everything it printed so far, both streams.</summary>
    public string Output => string.Join('\n', _output);

    /// <summary>Full path of a program or file, or null where it is not there.</summary>
    public static string? Find(string need)
    {
        if (Path.IsPathRooted(need))
            return File.Exists(need) ? need : null;
        var folders = (Environment.GetEnvironmentVariable("PATH") ?? "").Split(Path.PathSeparator).Append("/usr/sbin").Append("/usr/local/sbin");
        return folders.Select(folder => Path.Combine(folder, need)).FirstOrDefault(File.Exists);
    }

    /// <summary>
    /// A TCP port on loopback that was free a moment ago. It is below those that systems give to outgoing connections, and another each time, so that
    /// nobody takes it before the one that it is for.
    /// </summary>
    public static int FreePort()
    {
        while (true)
        {
            var port = FirstPort + ((Interlocked.Increment(ref _ports) & int.MaxValue) % Ports);
            try
            {
                using var listener = new TcpListener(IPAddress.Loopback, port);
                listener.Start();
                return port;
            }
            catch (SocketException e) when (e.SocketErrorCode is SocketError.AddressAlreadyInUse or SocketError.AccessDenied)
            {
                // Somebody has it.
            }
        }
    }

    /// <summary>Starts a program; its output is kept.</summary>
    /// <exception cref="FileNotFoundException">The program is not installed.</exception>
    public static Peer Start(string program, IEnumerable<string> arguments, IReadOnlyDictionary<string, string>? environment = null, string? folder = null)
    {
        var path = Find(program) ?? throw new FileNotFoundException($"{program} is not installed; tests/run.sh installs what the tests need.");
        var start = new ProcessStartInfo(path)
        {
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            RedirectStandardInput = true,
            WorkingDirectory = folder ?? Path.GetTempPath(),
        };
        foreach (var argument in arguments)
            start.ArgumentList.Add(argument);
        foreach (var (name, value) in environment ?? new Dictionary<string, string>())
            start.Environment[name] = value;

        var process = new Process { StartInfo = start };
        var peer = new Peer(process);
        process.OutputDataReceived += (_, e) => peer.Keep(e.Data);
        process.ErrorDataReceived += (_, e) => peer.Keep(e.Data);
        process.Start();
        process.BeginOutputReadLine();
        process.BeginErrorReadLine();
        return peer;
    }

    /// <summary>Runs a program to its end.</summary>
    /// <returns>Exit code and everything it printed.</returns>
    public static async Task<(int ExitCode, string Output)> RunAsync(string program, IEnumerable<string> arguments, IReadOnlyDictionary<string, string>? environment = null, CancellationToken cancellation = default)
    {
        await using var peer = Start(program, arguments, environment);
        await peer._process.WaitForExitAsync(cancellation);
        return (peer._process.ExitCode, peer.Output);
    }

    /// <summary>Waits until it listens on a loopback port.</summary>
    /// <exception cref="TimeoutException">It ended, or did not listen in time; the message holds what it printed.</exception>
    public async Task ListensAsync(int port, TimeSpan? within = null)
    {
        await Until.TrueAsync(
            async () =>
            {
                if (_process.HasExited)
                    throw new TimeoutException($"{_process.StartInfo.FileName} ended with {_process.ExitCode}:\n{Output}");
                using var client = new TcpClient();
                try
                {
                    await client.ConnectAsync(IPAddress.Loopback, port);
                    return true;
                }
                catch (SocketException)
                {
                    return false;
                }
            },
            $"{_process.StartInfo.FileName} listens on port {port}",
            within);
    }

    /// <summary>Waits until it has printed a text.</summary>
    public Task PrintsAsync(string text, TimeSpan? within = null) =>
        Until.TrueAsync(() => Output.Contains(text, StringComparison.Ordinal), () => $"{_process.StartInfo.FileName} prints '{text}'; it printed:\n{Output}", within);

    /// <summary>Writes a line to its input.</summary>
    public async Task TellAsync(string line)
    {
        await _process.StandardInput.WriteLineAsync(line);
        await _process.StandardInput.FlushAsync();
    }

    /// <summary>Waits for its end.</summary>
    /// <returns>The exit code.</returns>
    public async Task<int> ExitsAsync(TimeSpan? within = null)
    {
        using var timeout = new CancellationTokenSource(within ?? TimeSpan.FromMinutes(3));
        await _process.WaitForExitAsync(timeout.Token);
        return _process.ExitCode;
    }

    /// <summary>Ends it at once, as a power cut would.</summary>
    public async Task KillAsync()
    {
        if (!_process.HasExited)
            _process.Kill(entireProcessTree: true);
        await _process.WaitForExitAsync();
    }

    /// <summary>Sends a signal by name, for example INT.</summary>
    public async Task SignalAsync(string name) =>
        await RunAsync("kill", [$"-{name}", _process.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]);

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await KillAsync();
        _process.Dispose();
    }

    private void Keep(string? line)
    {
        if (line is not null)
            _output.Enqueue(line);
    }
}
