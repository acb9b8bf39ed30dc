using System.CommandLine;
using SawEdge.Gateway.Commands.Export;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using Spectre.Console;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>
/// <c>watch SAW</c>: shows the signals of one saw as they come, for a person who connects it: raw, decoded, age, quality, and what the cycle
/// detector thinks. Reads that saw only and stores nothing. Exit codes: <see cref="ExitCodes"/>; <see cref="ExitCodes.Failed"/> where
/// <c>--for</c> is over and nothing came.
/// </summary>
public static class WatchCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">The clock.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var name = new Argument<string>("saw") { Description = "Name of the saw." };
        var seconds = new Option<double?>("--for") { Description = "End after so many seconds; otherwise q or Ctrl+C ends it.", HelpName = "SECONDS" };
        var plain = new Option<bool>("--plain") { Description = "Print a block of lines each second, as into a pipe." };
        var format = new Option<string>("--format") { Description = "text, for people, or json: one object each second, for programs.", DefaultValueFactory = _ => "text" };
        format.AcceptOnlyFromAmong("text", "json");
        var folder = new DataFolderOptions();
        var command = new Command("watch", "Show the signals of one saw as they come: raw, decoded, age, quality, and what the cycle detector thinks and why. Only reads; no history is touched.") { name, seconds, plain, format };
        folder.AddTo(command, units: false, data: false);
        command.SetAction((arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            return DataFolderOptions.RunAsync(console.Error, async () =>
            {
                var options = folder.ReadConfiguration(arguments, environment);
                var limit = arguments.GetValue(seconds);
                if (limit is { } stated && !(stated > 0 && stated < 1e8))
                    throw new CommandException("--for: a number of seconds above 0 is wanted.");
                using var session = new WatchSession(options, SawOf(options, arguments.GetRequiredValue(name)), time);
                using var display = DisplayFor(session, options.Units, arguments.GetValue(format) == "json", arguments.GetValue(plain), console.Output, time);
                return await RunAsync(session, display, limit is { } s ? TimeSpan.FromSeconds(s) : null, time, console.Error, cancellation);
            }, cancellation);
        });
        return command;
    }

    /// <summary>The saw of that name.</summary>
    /// <exception cref="CommandException">There is none, or nothing of it comes live; the message says which there are.</exception>
    internal static SawOptions SawOf(GatewayOptions options, string name)
    {
        var found = options.Saws.FirstOrDefault(saw => saw.Name == name)
            ?? throw new CommandException($"There is no saw {Configuration.Reading.Words.Quoted(name)}; {NamedFolder.Hint(name, [.. options.Saws.Select(saw => saw.Name)])}");
        return found.Source is RecordingSourceOptions
            ? throw new CommandException($"Saw {Configuration.Reading.Words.Quoted(name)} is read from recordings, by 'replay'; there is nothing live to watch.")
            : found;
    }

    private static IWatchDisplay DisplayFor(WatchSession session, DisplayUnits units, bool json, bool plain, TextWriter output, TimeProvider time)
    {
        var shown = new WatchUnits(units);
        WatchText Text(int width) => new(session.Head, session.Places, shown, width);
        if (!json && !plain && ReferenceEquals(output, Console.Out) && !Console.IsOutputRedirected && AnsiConsole.Console.Profile.Capabilities.Ansi)
            return new TerminalDisplay(AnsiConsole.Console, Text, KeyPressed);
        var to = ReferenceEquals(output, Console.Out) ? new StreamWriter(StandardOutput.Open(), leaveOpen: true) : output;
        var text = Text(WatchText.LeastWidth);
        if (!json)
            return new PlainDisplay(to, (moment, troubles) => text.Draw(moment, troubles).Select(line => line.Text).Append(""));
        var written = new WatchJson(session.Head, text, text.Words);
        return new PlainDisplay(to, (moment, troubles) => [written.Write(time.GetUtcNow(), moment, troubles)]);
    }

    private static async Task<int> RunAsync(WatchSession session, IWatchDisplay display, TimeSpan? limit, TimeProvider time, TextWriter error, CancellationToken cancellation)
    {
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        using var over = new CancellationTokenSource(limit ?? Timeout.InfiniteTimeSpan, time);
        using var end = CancellationTokenSource.CreateLinkedTokenSource(cancellation, over.Token);
        var reading = session.RunAsync(stop.Token);
        try
        {
            using var pace = new PeriodicTimer(display.Every, time);
            while (!reading.IsCompleted && !display.IsEndAsked() && await NextAsync(pace, end.Token))
                display.Show(session.Watch.Look(), session.Troubles.Now);
            display.Show(session.Watch.Look(), session.Troubles.Now);
        }
        catch (ReaderGoneException)
        {
            return ExitCodes.ReaderGone;
        }
        finally
        {
            await stop.CancelAsync();
            await reading;
        }

        if (!over.IsCancellationRequested || session.Watch.Look().Signals.Any(signal => signal.Age is not null))
            return ExitCodes.Done;
        await error.WriteLineAsync($"Nothing came from {session.Head.Saw}.");
        return ExitCodes.Failed;
    }

    // Being told to end is how it ends.
    private static async ValueTask<bool> NextAsync(PeriodicTimer pace, CancellationToken cancellation)
    {
        try
        {
            return await pace.WaitForNextTickAsync(cancellation);
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            return false;
        }
    }

    private static ConsoleKey? KeyPressed() => !Console.IsInputRedirected && Console.KeyAvailable ? Console.ReadKey(intercept: true).Key : null;
}
