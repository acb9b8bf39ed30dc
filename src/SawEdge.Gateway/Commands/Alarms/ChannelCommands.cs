using System.CommandLine;
using SawEdge.Gateway.Commands.Reports;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary><c>alarm test</c> and <c>alarm undelivered</c>: the channels that messages leave by.</summary>
internal static class ChannelCommands
{
    /// <summary>Builds the commands.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    public static IEnumerable<Command> Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        yield return Test(environment, time);
        yield return Undelivered(environment, time);
    }

    private static Command Test(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var channel = new Argument<string>("channel") { Description = "Name of the channel in the configuration." };
        var contact = new Argument<string?>("contact") { Description = "The contact it goes to; all contacts of the channel unless told.", Arity = ArgumentArity.ZeroOrOne };
        return AlarmCommand.Build("test", "Send a test message through a channel at once, and say what the receiver answered.", folder, units: false, [channel, contact], async (arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            var options = folder.ReadConfiguration(arguments, environment);
            return await new ChannelTest(options, console.Output, console.Error, time).RunAsync(arguments.GetRequiredValue(channel), arguments.GetValue(contact), cancellation)
                ? ExitCodes.Done
                : ExitCodes.Failed;
        }, data: false);
    }

    private static Command Undelivered(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var what = new Argument<string>("what") { Description = "list: show them; retry: send them again; drop: never send them.", DefaultValueFactory = _ => "list" };
        what.AcceptOnlyFromAmong("list", "retry", "drop");
        var channel = new Argument<string?>("channel") { Description = "The channel; to list: all unless told.", Arity = ArgumentArity.ZeroOrOne };
        var numbers = new Argument<long[]>("number") { Description = "Only these, by the numbers that list shows; all of the channel unless told.", HelpName = "NUMBER", Arity = ArgumentArity.ZeroOrMore };
        var entries = new Option<long[]>("--entry", "-e") { Description = "The same as NUMBER.", HelpName = "NUMBER", AllowMultipleArgumentsPerToken = true };
        var yes = new Option<bool>("--yes", "-y") { Description = "Drop them without asking back." };
        return AlarmCommand.Build("undelivered", "Messages that a channel has set aside because they could not be delivered.", folder, units: false, [what, channel, numbers, entries, yes], async (arguments, cancellation) =>
        {
            var work = new Undelivered(folder.Read(arguments, environment), new TextPage(arguments.InvocationConfiguration.Output), time);
            var (action, name, chosen) = (arguments.GetValue(what), arguments.GetValue(channel), (long[])[.. arguments.GetValue(numbers) ?? [], .. arguments.GetValue(entries) ?? []]);
            if (action == "list")
                await work.ListAsync(name, chosen, cancellation);
            else if (name is null)
                throw new CommandException($"Name the channel: 'sawedge alarm undelivered {action} CHANNEL'.");
            else if (action == "retry")
                await work.RetryAsync(name, chosen, cancellation);
            else
                await work.DropAsync(name, chosen, arguments.GetValue(yes), cancellation);
            return ExitCodes.Done;
        });
    }
}
