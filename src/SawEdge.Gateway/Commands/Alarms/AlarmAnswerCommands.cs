using System.CommandLine;
using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Commands.Alarms;

/// <summary><c>alarm acknowledge | reset | comment | confirm | reject | shelve | unshelve | suspend | return</c>: what a person says about an alarm.</summary>
internal static class AlarmAnswerCommands
{
    /// <summary>Builds the commands.</summary>
    public static IEnumerable<Command> Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        yield return OfOne(AlarmAction.Acknowledge, "acknowledge", "Say that you took note of an alarm: reminders and escalations of it end.", environment, time);
        yield return OfOne(AlarmAction.Reset, "reset", "Reset a latched alarm whose condition is gone and that is acknowledged.", environment, time);
        yield return OfOne(AlarmAction.Comment, "comment", "Add a remark to an alarm.", environment, time);
        yield return OfOne(AlarmAction.Confirm, "confirm", "Say that an alarm was right; 'alarm health' and 'alarm backtest' count it.", environment, time);
        yield return OfOne(AlarmAction.Reject, "reject", "Say that nothing was wrong; 'alarm health' and 'alarm backtest' count it.", environment, time);
        yield return OfAny(AlarmAction.Shelve, "shelve", "Put an alarm aside for a time, with a reason: it is watched on, and nobody is told.", environment, time);
        yield return OfAny(AlarmAction.Unshelve, "unshelve", "Take an alarm from the shelf before its time is over.", environment, time);
        yield return OfAny(AlarmAction.TakeOutOfService, "suspend", "Take an alarm out of service until further notice, with a reason.", environment, time);
        yield return OfAny(AlarmAction.ReturnToService, "return", "Put an alarm back into service.", environment, time);
    }

    /// <summary>The argument that names an alarm.</summary>
    public static Argument<string> Number() => new("number") { Description = "Number of the alarm, as 'alarm list' shows it.", HelpName = "NUMBER" };

    /// <summary>Reads the number of an alarm; a # before it is allowed.</summary>
    /// <exception cref="CommandException">It is none.</exception>
    public static long Number(string written) =>
        long.TryParse(written.TrimStart('#'), NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number > 0
            ? number
            : throw new CommandException($"{Words.Quoted(written)} is no number of an alarm; 'sawedge alarm list' shows them.");

    private static Command OfOne(AlarmAction action, string name, string description, IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var (number, by, note) = (Number(), By(), AlarmCommand.Text("--note", "What else should be remembered.", "TEXT", "-m"));
        return AlarmCommand.Build(name, description, folder, units: false, [number, by, note], async (arguments, cancellation) =>
        {
            var remark = AlarmCommand.Clean(arguments.GetValue(note)) ?? "";
            if (action == AlarmAction.Comment && remark.Length == 0)
                throw new CommandException("--note is missing: write the remark, for example --note \"two teeth gone\".");
            await Answering(folder, arguments, environment, time).AnswerAsync(action, Number(arguments.GetRequiredValue(number)), Who(arguments.GetValue(by)), remark, null, cancellation);
            return ExitCodes.Done;
        });
    }

    private static Command OfAny(AlarmAction action, string name, string description, IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var needsReason = action is AlarmAction.Shelve or AlarmAction.TakeOutOfService;
        var number = new Argument<string?>("number") { Description = "Number of the alarm, as 'alarm list' shows it; or name --rule and --saw.", Arity = ArgumentArity.ZeroOrOne };
        var rule = AlarmCommand.Text("--rule", "The rule, where no alarm is named.", "RULE");
        var saw = AlarmCommand.Text("--saw", "With --rule: the saw, or the source, destination, channel or gateway that the rule is about.", "SAW", "--subject");
        var reason = AlarmCommand.Text("--reason", needsReason ? "Why; it is stored with the alarm." : "What else should be remembered.", "TEXT", "--note");
        var span = AlarmCommand.Text("--for", "For how long, for example \"8 h\" or \"2 days\".", "TIME");
        var by = By();
        return AlarmCommand.Build(name, description, folder, units: false, action == AlarmAction.Shelve ? [number, rule, saw, span, reason, by] : [number, rule, saw, reason, by], async (arguments, cancellation) =>
        {
            var (one, named) = (arguments.GetValue(number), arguments.GetValue(rule));
            if (one is null == named is null)
                throw new CommandException($"{(one is null ? "Nothing is named" : "These exclude each other")}: write the number of an alarm, or --rule RULE --saw SAW.");
            if (one is not null && arguments.GetValue(saw) is not null)
                throw new CommandException("--saw goes with --rule; an alarm by its number is about one thing already.");
            var why = AlarmCommand.Clean(arguments.GetValue(reason)) ?? "";
            if (needsReason && why.Length == 0)
                throw new CommandException("--reason is missing: say why, for example --reason \"guide is being changed\".");
            var shelf = action == AlarmAction.Shelve ? Shelf(arguments.GetValue(span)) : (TimeSpan?)null;
            var (answering, who) = (Answering(folder, arguments, environment, time), Who(arguments.GetValue(by)));
            if (one is not null)
                await answering.AnswerAsync(action, Number(one), who, why, shelf, cancellation);
            else
                await answering.AnswerAsync(action, named!, arguments.GetValue(saw), who, why, shelf, cancellation);
            return ExitCodes.Done;
        });
    }

    private static AlarmAnswering Answering(DataFolderOptions folder, System.CommandLine.ParseResult arguments, IReadOnlyDictionary<string, string> environment, TimeProvider time) =>
        new(folder.Read(arguments, environment), new TextPage(arguments.InvocationConfiguration.Output), time);

    private static Option<string?> By() => AlarmCommand.Text("--by", "Who says so; the user of this machine unless told.", "NAME");

    private static string Who(string? by) => AlarmCommand.Clean(by ?? Environment.UserName) is { Length: > 0 } who
        ? who
        : throw new CommandException("--by is empty: write your name, so that others know whom to ask.");

    private static TimeSpan Shelf(string? written)
    {
        if (written is null)
            throw new CommandException("--for is missing: for how long, for example --for \"8 h\" or --for \"2 days\".");
        return MomentText.Span(written) is { } span && span > TimeSpan.Zero ? span : throw new CommandException($"--for '{written}' is no time on the shelf; write for example \"8 h\" or \"2 days\".");
    }
}
