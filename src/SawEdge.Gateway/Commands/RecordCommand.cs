using System.CommandLine;
using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Acquisition;
using SawEdge.Gateway.Acquisition.Recordings;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;

namespace SawEdge.Gateway.Commands;

/// <summary>
/// <c>record [FILE] --out FOLDER</c>: reads the configured saws and writes every frame to a recording, without a history.
/// For a person who wants to look at a saw first, or to keep what it does for a replay. Exit codes: <see cref="ExitCodes"/>.
/// </summary>
internal static class RecordCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create()
    {
        var file = new Argument<string>("file") { Description = "The configuration file.", DefaultValueFactory = _ => ConfigurationFile.DefaultName };
        var folder = new Option<string>("--out", "-o") { Description = "Folder of the recording; made where it is not there.", HelpName = "FOLDER", Required = true };
        var seconds = new Option<double?>("--for") { Description = "End after so many seconds; otherwise Ctrl+C ends it.", HelpName = "SECONDS" };
        var command = new Command("record", "Read the configured saws and write every frame to a recording that replay can read; no history is touched.") { file, folder, seconds };
        command.SetAction(async (arguments, cancellation) =>
        {
            var path = arguments.GetValue(file)!;
            var console = arguments.InvocationConfiguration;
            var loaded = ConfigurationFile.Load(path, ConfigurationFile.Environment());
            if (loaded.Options is not { } options)
            {
                CheckCommand.Run(path, ConfigurationFile.Environment(), strict: false, console.Error);
                return ExitCodes.WrongInput;
            }

            if (SourceLoops.Live(options).Saws.Count == 0)
            {
                await console.Error.WriteLineAsync($"{path}: no saw has a live source: \"source\": \"recording\" is for 'sawedge replay --config {path}' alone.");
                return ExitCodes.WrongInput;
            }

            using var end = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
            if (arguments.GetValue(seconds) is { } limit)
            {
                if (!(limit > 0 && limit < 1e8))
                {
                    await console.Error.WriteLineAsync("--for: a number of seconds above 0 is wanted.");
                    return ExitCodes.WrongInput;
                }

                end.CancelAfter(TimeSpan.FromSeconds(limit));
            }

            var recorded = await RunAsync(options, arguments.GetRequiredValue(folder), end.Token);
            await console.Output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{recorded} frames recorded."));
            return ExitCodes.Done;
        });
        return command;
    }

    private static async Task<long> RunAsync(GatewayOptions options, string folder, CancellationToken cancellation)
    {
        using var loggers = LoggerFactory.Create(logging => GatewayHost.ConfigureLogging(logging, LogForm.Text, new LogLevels(LogLevel.Information)));
        using var sink = new RecordingSink((options.Record ?? new RecordOptions { Folder = folder }) with { Folder = Path.GetFullPath(folder) }, SourceLoops.MappedSignals(options), TimeProvider.System, loggers.CreateLogger<RecordingSink>());
        var inboxes = options.Saws.ToDictionary(saw => saw.Name, saw => new SawInbox(saw.Name, derived: saw.Derived), StringComparer.Ordinal);
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var writing = sink.RunAsync(CancellationToken.None);
        var passing = Task.WhenAll(inboxes.Values.Select(inbox => PassOnAsync(inbox, sink)));
        var sources = SourceLoops.Build(options, inboxes, TimeProvider.System, loggers).Select(source => source.RunAsync(stop.Token)).ToList();

        // A source that fails ends the rest too; what was recorded so far is kept.
        var first = await Task.WhenAny(sources);
        if (first.IsFaulted)
            await stop.CancelAsync();
        try
        {
            await Task.WhenAll(sources);
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
            // The orderly end.
        }
        finally
        {
            foreach (var inbox in inboxes.Values)
                inbox.Complete();
            await passing;
            sink.Complete();
            await writing;
        }

        return sink.Recorded;
    }

    private static async Task PassOnAsync(SawInbox inbox, RecordingSink sink)
    {
        while (await inbox.Frames.WaitToReadAsync())
        {
            while (inbox.Frames.TryRead(out SignalFrame frame))
                sink.Offer(inbox.Saw, frame);
        }
    }
}
