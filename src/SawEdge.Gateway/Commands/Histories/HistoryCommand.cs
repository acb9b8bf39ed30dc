using System.CommandLine;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Histories;

/// <summary><c>history status | check | compact | backup | restore</c>: the history as a file. Exit codes: <see cref="ExitCodes"/>; a check that finds something ends as failed.</summary>
public static class HistoryCommand
{
    private static readonly string[] Formats = ["text", "json"];

    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time) =>
        new("history", "The history as a file: what is in it, whether it is whole, backups. All but 'restore' works beside a running gateway.")
        {
            Status(environment, time), Check(environment, time), Compact(environment, time), Backup(environment, time), Restore(environment, time),
        };

    private static Command Status(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var format = Format();
        return Build("status", "What the history holds: rows and bytes of each kind of data, oldest and newest, size and free pages of the file, what was set aside. Counts every row, so a large history takes its time.", environment, time, [format], (work, arguments, cancellation) =>
            work.StatusAsync(arguments.GetValue(format) == "json", cancellation));
    }

    private static Command Check(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var format = Format();
        var file = new Argument<string?>("file") { Description = "A backup, or a history that was set aside; the history in the data folder unless told.", HelpName = "FILE", Arity = ArgumentArity.ZeroOrOne };
        return Build("check", "Look the history, or a backup, through: pages, indexes, references, the journal, and whether everything stored can be read. Changes nothing.", environment, time, [file, format], (work, arguments, cancellation) =>
            work.CheckAsync(arguments.GetValue(file), arguments.GetValue(format) == "json", cancellation), needsFolder: arguments => arguments.GetValue(file) is null);
    }

    private static Command Compact(IReadOnlyDictionary<string, string> environment, TimeProvider time) =>
        Build("compact", "Give the disk back what the history does not need: the file is written anew; beside a running gateway its free pages are given back in small steps.", environment, time, [], (work, _, cancellation) =>
            work.CompactAsync(cancellation));

    private static Command Backup(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var file = new Argument<string>("file") { Description = "The backup: one file, there whole or not at all, and checked.", HelpName = "FILE" };
        var replace = new Option<bool>("--replace") { Description = "Replace a file of that name, once the new backup is whole." };
        return Build("backup", "Write a backup of one moment, beside a running gateway, too.", environment, time, [file, replace], (work, arguments, cancellation) =>
            work.BackupAsync(arguments.GetRequiredValue(file), arguments.GetValue(replace), cancellation));
    }

    private static Command Restore(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var file = new Argument<string>("file") { Description = "The backup; it is checked first, and stays.", HelpName = "FILE" };
        return Build("restore", "Put a backup in the history's place. The present history is set aside under a name with the time, never deleted. Needs the gateway stopped.", environment, time, [file], (work, arguments, cancellation) =>
            work.RestoreAsync(arguments.GetRequiredValue(file), cancellation));
    }

    private static Option<string> Format()
    {
        var format = new Option<string>("--format") { Description = "text or json.", DefaultValueFactory = _ => "text" };
        format.AcceptOnlyFromAmong(Formats);
        return format;
    }

    private static Command Build(
        string name,
        string description,
        IReadOnlyDictionary<string, string> environment,
        TimeProvider time,
        IReadOnlyList<Symbol> symbols,
        Func<HistoryWork, ParseResult, CancellationToken, Task<int>> run,
        Func<ParseResult, bool>? needsFolder = null)
    {
        var folder = new DataFolderOptions();
        var command = new Command(name, description);
        foreach (var symbol in symbols)
        {
            if (symbol is Argument argument)
                command.Arguments.Add(argument);
            else if (symbol is Option option)
                command.Options.Add(option);
        }

        folder.AddTo(command, units: false);
        command.SetAction((arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            return DataFolderOptions.RunAsync(console.Error, async () =>
            {
                var place = needsFolder is null || needsFolder(arguments) ? folder.Read(arguments, environment).Folder : "";
                return await run(new HistoryWork(place, console.Output, WorkProgress.OnError(console.Error), time), arguments, cancellation);
            }, cancellation);
        });
        return command;
    }
}
