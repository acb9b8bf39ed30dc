using System.CommandLine;
using SawEdge.Core.Signals;
using Spectre.Console;

namespace SawEdge.Gateway.Commands;

/// <summary>
/// <c>replay --input FILES... --out FOLDER [--config FILE] [--jobs FILE] [--saw NAME] [--overwrite]</c>: recordings through the live
/// code, into a history of their own, and their cycles and alarms as tables. Exit codes: <see cref="ExitCodes"/>.
/// </summary>
public static class ReplayCommand
{
    /// <summary>Builds the command.</summary>
    /// <param name="start">Starts the live code.</param>
    /// <param name="time">Clock of the progress and the summary; no record depends on it.</param>
    public static Command Create(StartReplay start, TimeProvider time)
    {
        var input = new Option<string[]>("--input", "-i")
        {
            Description = "Recordings: files (.csv, .csv.gz), folders, or patterns such as recordings/*.csv.gz. Put in the order of their times.",
            HelpName = "FILES",
            Required = true,
            AllowMultipleArgumentsPerToken = true,
        };
        var folder = new Option<string>("--out", "-o")
        {
            Description = "Folder for the history of the replay, cycles.csv and alarms.csv; made where it is not there.",
            HelpName = "FOLDER",
            Required = true,
        };
        var config = new Option<string?>("--config", "-c") { Description = "Configuration of the saws, as the gateway reads it.", HelpName = "FILE" };
        var jobs = new Option<string?>("--jobs") { Description = "Job list (CSV or JSON), in place of the configuration's.", HelpName = "FILE" };
        var saw = new Option<string?>("--saw") { Description = "Name of the saw, for recordings without the column 'saw'; otherwise the file's name counts.", HelpName = "NAME" };
        var overwrite = new Option<bool>("--overwrite") { Description = "Replace an earlier replay in the folder." };

        var command = new Command("replay", "Run recordings through the live code, as fast as the machine can, and write their cycles to FOLDER/cycles.csv and the alarms that the rules would have raised to FOLDER/alarms.csv. The same input gives the same bytes.")
        {
            input, folder, config, jobs, saw, overwrite,
        };
        command.SetAction((parsed, cancellation) =>
        {
            var settings = new ReplaySettings
            {
                Inputs = parsed.GetRequiredValue(input),
                OutFolder = parsed.GetRequiredValue(folder),
                ConfigFile = parsed.GetValue(config),
                JobsFile = parsed.GetValue(jobs),
                Saw = parsed.GetValue(saw) is { } name ? ControllerText.Clean(name) : null,
                Overwrite = parsed.GetValue(overwrite),
            };
            var console = parsed.InvocationConfiguration;
            return new Replay(settings, start, time).RunAsync(console.Output, console.Error, Terminal(console.Output), cancellation);
        });
        return command;
    }

    private static IAnsiConsole? Terminal(TextWriter output) =>
        ReferenceEquals(output, Console.Out) && !Console.IsOutputRedirected ? AnsiConsole.Console : null;
}
