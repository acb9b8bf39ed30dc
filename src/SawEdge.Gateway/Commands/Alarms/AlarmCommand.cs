using System.CommandLine;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Commands.Alarms.Backtest;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary>
/// <c>alarm list | show | journal | rules</c> and what stands in the other files of this folder: the alarms, what people say about
/// them, and rules tried on the past. Exit codes: <see cref="ExitCodes"/>.
/// </summary>
public static class AlarmCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var command = new Command("alarm", "The alarms: list them, answer them, export their journal, see the rules, try rules on the past. Works beside a running gateway.")
        {
            List(environment, time), Show(environment, time), Journal(environment, time), Rules(environment), Health(environment, time), BacktestCommand.Create(environment, time),
        };
        foreach (var another in AlarmAnswerCommands.Create(environment, time).Concat(ChannelCommands.Create(environment, time)))
            command.Subcommands.Add(another);
        return command;
    }

    /// <summary>Builds one of the commands.</summary>
    /// <param name="name">Its name.</param>
    /// <param name="description">What it does.</param>
    /// <param name="folder">Where it looks.</param>
    /// <param name="units">Whether it prints values.</param>
    /// <param name="symbols">Its own arguments and options.</param>
    /// <param name="run">Does it; gives the exit code.</param>
    /// <param name="data">Whether it looks into a data folder.</param>
    internal static Command Build(string name, string description, DataFolderOptions folder, bool units, IReadOnlyList<Symbol> symbols, Func<ParseResult, CancellationToken, Task<int>> run, bool data = true)
    {
        var command = new Command(name, description);
        foreach (var symbol in symbols)
        {
            if (symbol is Argument argument)
                command.Arguments.Add(argument);
            else if (symbol is Option option)
                command.Options.Add(option);
        }

        folder.AddTo(command, units, data);
        command.SetAction((arguments, cancellation) => DataFolderOptions.RunAsync(arguments.InvocationConfiguration.Error, () => run(arguments, cancellation), cancellation));
        return command;
    }

    /// <summary>An option with a text.</summary>
    internal static Option<string?> Text(string name, string description, string help, params string[] aliases) => new(name, aliases) { Description = description, HelpName = help };

    /// <summary>The option for output that programs read.</summary>
    internal static Option<bool> Json() => new("--json") { Description = "Print JSON: metric, null where something is not known." };

    /// <summary>What a person typed, without what would do harm in a terminal or a message.</summary>
    internal static string? Clean(string? text) => text is null ? null : ControllerText.Clean(text);

    private static Command List(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var all = new Option<bool>("--all") { Description = "Closed ones as well." };
        var from = Text("--from", $"With --all: raised at that time or later, {MomentText.Forms}.", "TIME");
        var to = Text("--to", "With --all: raised before that time.", "TIME");
        var saw = Text("--saw", "Only those about this saw, or this source, destination, channel or gateway.", "SAW", "--subject");
        var rule = Text("--rule", "Only those of this rule.", "RULE");
        var json = Json();
        return Build("list", "List the alarms that are open, the latest first.", folder, units: false, [all, from, to, saw, rule, json], async (arguments, cancellation) =>
        {
            var wanted = new AlarmLooking.Wanted(arguments.GetValue(all), arguments.GetValue(from), arguments.GetValue(to), arguments.GetValue(saw), arguments.GetValue(rule));
            await new AlarmLooking(folder.Read(arguments, environment), arguments.InvocationConfiguration.Output, time).ListAsync(wanted, arguments.GetValue(json), cancellation);
            return ExitCodes.Done;
        });
    }

    private static Command Show(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var number = AlarmAnswerCommands.Number();
        var ascii = new Option<bool>("--ascii") { Description = "Draw with plain ASCII characters." };
        var json = Json();
        return Build("show", "Show one alarm: what was measured, what it may be, what happened to it, and the cut that raised it.", folder, units: true, [number, ascii, json], async (arguments, cancellation) =>
        {
            var looking = new AlarmLooking(folder.Read(arguments, environment), arguments.InvocationConfiguration.Output, time);
            await looking.ShowAsync(AlarmAnswerCommands.Number(arguments.GetRequiredValue(number)), arguments.GetValue(json), arguments.GetValue(ascii), folder.Units(arguments), cancellation);
            return ExitCodes.Done;
        });
    }

    private static Command Journal(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var from = Text("--from", $"Only what happened at that time or later, {MomentText.Forms}.", "TIME");
        var to = Text("--to", "Only what happened before that time.", "TIME");
        var form = new Option<string>("--format") { Description = "A table (RFC 4180), or one JSON object a line.", DefaultValueFactory = _ => "csv" };
        form.AcceptOnlyFromAmong("csv", "jsonl");
        var file = Text("--out", "File to write, replaced when the export is whole; printed unless told.", "FILE", "-o");
        return Build("journal", "Export everything that happened to alarms, each transition with its time and who.", folder, units: false, [from, to, form, file], async (arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            var path = arguments.GetValue(file);
            var looking = new AlarmLooking(folder.Read(arguments, environment), console.Output, time);
            var count = await looking.JournalAsync(arguments.GetValue(from), arguments.GetValue(to), arguments.GetValue(form) == "jsonl" ? JournalForm.JsonLines : JournalForm.Csv, path, cancellation);
            if (path is not null)
                await console.Output.WriteLineAsync($"{AlarmText.Count(count, "event")} written to {path}");
            return ExitCodes.Done;
        });
    }

    private static Command Rules(IReadOnlyDictionary<string, string> environment)
    {
        var folder = new DataFolderOptions();
        var json = Json();
        return Build("rules", "List the rules in force: what raises each alarm and what clears it, how urgent it is, and where it comes from.", folder, units: true, [json], async (arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            var options = folder.ReadConfiguration(arguments, environment);
            if (arguments.GetValue(json))
                await console.Output.WriteLineAsync(AlarmRulesText.Json(options.Alarms));
            else
                new AlarmRulesText(new TextPage(console.Output), folder.Units(arguments)).Write(options.Alarms);
            return ExitCodes.Done;
        }, data: false);
    }

    private static Command Health(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var days = new Option<int>("--days") { Description = "How many days back.", HelpName = "N", DefaultValueFactory = _ => 30 };
        var json = Json();
        return Build("health", "Whether a person can heed the alarms: how many, the most frequent, standing and chattering ones, how many were right, against the standard's benchmarks.", folder, units: false, [days, json], async (arguments, cancellation) =>
        {
            var count = arguments.GetValue(days);
            if (count is < 1 or > 3660)
                throw new CommandException(FormattableString.Invariant($"--days {count}: a whole number of days from 1 to 3660 is wanted."));
            var output = arguments.InvocationConfiguration.Output;
            var named = folder.Read(arguments, environment);
            var health = await AlarmHealthText.ReadAsync(named.Open(), count, time.GetUtcNow(), cancellation);
            if (arguments.GetValue(json))
                await output.WriteLineAsync(AlarmHealthText.Json(health));
            else
                new AlarmHealthText(new TextPage(output), new MomentText(named.At(time))).Write(health);
            return ExitCodes.Done;
        });
    }
}
