using System.Text.Json;
using SawEdge.TestSupport;

namespace SawEdge.EndToEnd.Tests.Support;

/// <summary>One line of the gateway's log.</summary>
/// <param name="EventId">Number of the event.</param>
/// <param name="Level">Its level.</param>
/// <param name="Message">Its text.</param>
internal sealed record LogLine(int EventId, string Level, string Message);

/// <summary>The built gateway as a process of its own, with its log as JSON.</summary>
internal sealed class GatewayProcess : IAsyncDisposable
{
    private readonly Peer _peer;

    private GatewayProcess(Peer peer) => _peer = peer;

    /// <summary>Everything it printed, both streams.</summary>
    public string Output => _peer.Output;

    /// <summary>Whether it has ended.</summary>
    public bool HasExited => _peer.HasExited;

    /// <summary>What it has logged so far.</summary>
    public IReadOnlyList<LogLine> Log => [.. Output.Split('\n').Where(line => line.StartsWith('{')).Select(Parse)];

    /// <summary>Starts <c>sawedge run FILE</c>.</summary>
    /// <param name="configuration">The file.</param>
    /// <param name="environment">Variables that it gets besides.</param>
    /// <param name="through">A command that runs it, for example in a network of its own.</param>
    public static GatewayProcess Run(string configuration, IReadOnlyDictionary<string, string>? environment = null, params string[] through)
    {
        string[] line = [.. through, Peer.Find(Dotnet) ?? Dotnet, Program, "run", configuration, "--log", "json"];
        return new(Peer.Start(line[0], line[1..], environment));
    }

    /// <summary>Starts the program with any command line.</summary>
    public static Peer Start(params string[] arguments) => Peer.Start(Dotnet, [Program, .. arguments]);

    /// <summary>Runs a command to its end.</summary>
    public static async Task<(int ExitCode, string Output)> CommandAsync(params string[] arguments)
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromMinutes(3));
        return await Peer.RunAsync(Dotnet, [Program, .. arguments], cancellation: patience.Token);
    }

    /// <summary>Runs a command that must end well.</summary>
    /// <returns>What it printed.</returns>
    public static async Task<string> GoodCommandAsync(params string[] arguments)
    {
        var (exitCode, output) = await CommandAsync(arguments);
        Assert.True(exitCode == 0, $"sawedge {string.Join(' ', arguments)} ended with {exitCode}:\n{output}");
        return output;
    }

    /// <summary>How often an event was logged.</summary>
    public int Count(int eventId) => Log.Count(line => line.EventId == eventId);

    /// <summary>How often an event was logged whose message begins with a text.</summary>
    public int Count(int eventId, string beginning) => Log.Count(line => line.EventId == eventId && line.Message.StartsWith(beginning, StringComparison.Ordinal));

    /// <summary>Waits until it has logged an event.</summary>
    public Task LogsAsync(int eventId, string beginning = "", TimeSpan? within = null) =>
        Until.TrueAsync(() => Alive() && Count(eventId, beginning) > 0, () => $"event {eventId} '{beginning}' is logged; the log is:\n{Output}", within);

    /// <summary>Waits for a condition while the gateway must stay alive.</summary>
    public Task UntilAsync(Func<bool> condition, string what, TimeSpan? within = null) =>
        Until.TrueAsync(() => Alive() && condition(), () => $"{what}; the gateway's log is:\n{Output}", within);

    /// <inheritdoc cref="UntilAsync(Func{bool}, string, TimeSpan?)"/>
    public Task UntilAsync(Func<Task<bool>> condition, string what, TimeSpan? within = null) =>
        Until.TrueAsync(async () => Alive() && await condition(), () => $"{what}; the gateway's log is:\n{Output}", within);

    /// <summary>Ends it by a signal.</summary>
    /// <param name="signal">TERM, as a service manager sends it, or INT, as Ctrl+C does.</param>
    /// <returns>The exit code.</returns>
    public async Task<int> EndAsync(string signal = "TERM")
    {
        await _peer.SignalAsync(signal);
        return await _peer.ExitsAsync();
    }

    /// <summary>Ends it as a power cut would: <c>kill -9</c>.</summary>
    public Task KillAsync() => _peer.KillAsync();

    /// <inheritdoc/>
    public ValueTask DisposeAsync() => _peer.DisposeAsync();

    /// <summary>The program that runs what is built.</summary>
    public static string Dotnet => Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet" ? Environment.ProcessPath! : "dotnet";

    private static string Program => Path.Combine(AppContext.BaseDirectory, "sawedge.dll");

    private bool Alive() => !_peer.HasExited ? true : throw new InvalidOperationException($"the gateway has ended:\n{Output}");

    private static LogLine Parse(string line)
    {
        using var document = JsonDocument.Parse(line);
        var root = document.RootElement;
        return new LogLine(root.GetProperty("EventId").GetInt32(), root.GetProperty("LogLevel").GetString()!, root.GetProperty("Message").GetString()!);
    }
}
