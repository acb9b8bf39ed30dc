using System.CommandLine;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Forwarding.Points;

namespace SawEdge.Gateway.Commands.Outbox;

/// <summary>
/// <c>outbox status | list | retry | drop | again | points</c>: what waits for the destinations, what they refused for good, and the points of a
/// period once more. Works beside a running gateway. Exit codes: <see cref="ExitCodes"/>.
/// </summary>
public static class OutboxCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System, Console.IsInputRedirected ? null : AtTheTerminal);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    /// <param name="ask">Asks a person a question and gives the answer; null where nobody can be asked.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time, Func<string, string?>? ask) =>
        new("outbox", "What waits for the destinations, what they refused for good, and the points of a period once more. Works beside a running gateway.")
        {
            Status(environment, time), List(environment, time), Retry(environment, time), Drop(environment, time, ask), Again(environment, time), Points(),
        };

    private static Command Status(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var (folder, form) = (new DataFolderOptions(), Form());
        return AlarmCommand.Build("status", "How far each destination is, what waits for it and since when, what ails it, and how much is set aside.", folder, units: false, [form], async (arguments, cancellation) =>
        {
            var named = folder.Read(arguments, environment);
            var status = await OutboxStatus.ReadAsync(named, cancellation);
            var output = arguments.InvocationConfiguration.Output;
            if (IsJson(arguments, form))
                await output.WriteLineAsync(status.Json());
            else
                status.Write(new TextPage(output), new MomentText(named.At(time)));
            return ExitCodes.Done;
        });
    }

    private static Command List(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var (folder, form, destination, numbers) = (new DataFolderOptions(), Form(), Destination(), Numbers());
        return AlarmCommand.Build("list", "List what destinations refused for good: which cycle or event, when, and the server's own words.", folder, units: false, [destination, numbers, form], async (arguments, cancellation) =>
        {
            var named = folder.Read(arguments, environment);
            var aside = await SetAside.ReadAsync(named, What(arguments, destination, numbers), cancellation);
            var output = arguments.InvocationConfiguration.Output;
            if (IsJson(arguments, form))
                await output.WriteLineAsync(aside.Json());
            else
                aside.Write(new TextPage(output), new MomentText(named.At(time)));
            return ExitCodes.Done;
        });
    }

    private static Command Retry(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var (folder, form, destination, numbers) = (new DataFolderOptions(), Form(), Destination(), Numbers());
        return AlarmCommand.Build("retry", "Send again what was set aside: each as its row is now, at the end of what waits.", folder, units: false, [destination, numbers, form], async (arguments, cancellation) =>
        {
            var aside = await SetAside.ReadAsync(folder.Read(arguments, environment), What(arguments, destination, numbers), cancellation);
            aside.Retry(arguments.InvocationConfiguration.Output, IsJson(arguments, form), time.GetUtcNow());
            return ExitCodes.Done;
        });
    }

    private static Command Drop(IReadOnlyDictionary<string, string> environment, TimeProvider time, Func<string, string?>? ask)
    {
        var (folder, form, destination, numbers) = (new DataFolderOptions(), Form(), Destination(), Numbers());
        var yes = new Option<bool>("--yes", "-y") { Description = "Drop without asking back." };
        return AlarmCommand.Build("drop", "Never send what was set aside. Cycles and alarms themselves stay in the history.", folder, units: false, [destination, numbers, yes, form], async (arguments, cancellation) =>
        {
            var aside = await SetAside.ReadAsync(folder.Read(arguments, environment), What(arguments, destination, numbers), cancellation);
            aside.Drop(arguments.InvocationConfiguration.Output, IsJson(arguments, form), arguments.GetValue(yes) ? _ => "yes" : ask);
            return ExitCodes.Done;
        });
    }

    private static Command Again(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var (folder, form) = (new DataFolderOptions(), Form());
        var destination = new Argument<string>("destination") { Description = "The InfluxDB destination, by its name in the configuration.", HelpName = "DEST" };
        var from = AlarmCommand.Text("--from", $"Only what has its time at that time or later, {MomentText.Forms}; from the beginning unless told.", "TIME");
        var to = AlarmCommand.Text("--to", "Only what has its time before that time; to the end unless told.", "TIME");
        return AlarmCommand.Build("again", "Send the points of a period once more, for a server that is new or was restored: all that its \"points\" name and the history holds. Nothing is counted twice, and what waits is not touched.", folder, units: false, [destination, from, to, form], async (arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            var again = new SendingAgain(folder.Read(arguments, environment), console.Output, console.Error, time);
            return await again.RunAsync(arguments.GetRequiredValue(destination), arguments.GetValue(from), arguments.GetValue(to), IsJson(arguments, form), cancellation);
        });
    }

    private static Command Points()
    {
        var output = new Option<string?>("--out", "-o") { Description = "File to write to; standard output where left out.", HelpName = "file" };
        var command = new Command("points", "Say what is written to InfluxDB: every measurement, tag and field, as Markdown.") { output };
        command.SetAction(arguments =>
        {
            var text = PointDescriptions.Markdown(PointTables.All);
            if (arguments.GetValue(output) is not { } path)
            {
                arguments.InvocationConfiguration.Output.Write(text);
                return ExitCodes.Done;
            }

            try
            {
                File.WriteAllText(path, text);
                return ExitCodes.Done;
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException)
            {
                arguments.InvocationConfiguration.Error.WriteLine($"{path} cannot be written: {e.Message}");
                return ExitCodes.Failed;
            }
        });
        return command;
    }

    private static Option<string> Form()
    {
        var form = new Option<string>("--format") { Description = "How to print: for people or for programs.", DefaultValueFactory = _ => "text" };
        form.AcceptOnlyFromAmong("text", "json");
        return form;
    }

    private static Argument<string?> Destination() => new("destination") { Description = "The destination; all unless told.", HelpName = "DEST", Arity = ArgumentArity.ZeroOrOne };

    private static Argument<string[]> Numbers() => new("number") { Description = "Only these, by the numbers that list shows; they may be written without a destination.", HelpName = "NUMBER", Arity = ArgumentArity.ZeroOrMore };

    private static string[] What(ParseResult arguments, Argument<string?> destination, Argument<string[]> numbers) =>
        arguments.GetValue(destination) is { } first ? [first, .. arguments.GetValue(numbers) ?? []] : [];

    private static bool IsJson(ParseResult arguments, Option<string> form) => arguments.GetValue(form) == "json";

    private static string? AtTheTerminal(string question)
    {
        Console.Error.Write(question);
        return Console.ReadLine();
    }
}
