using System.CommandLine;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Blades;

/// <summary><c>blade list | change | correct | retire | forecast</c>: the blades of the saws, and what people say about them. Exit codes: <see cref="ExitCodes"/>.</summary>
public static class BladeCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time) =>
        new("blade", "The blades of the saws: list them, enter a change, correct it, retire a blade, forecast its end. Works beside a running gateway.")
        {
            List(environment, time), Change(environment, time), Correct(environment, time), Retire(environment, time), Forecast(environment, time),
        };

    private static Command List(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var saw = new Option<string?>("--saw") { Description = "Only this saw.", HelpName = "SAW" };
        return Build("list", "List the blades of each saw: since when, how that is known, cuts, area, wear, what is left, and what is proposed.", environment, time, units: true, [saw], async (work, arguments, cancellation) =>
        {
            await work.ListAsync(arguments.GetValue(saw), cancellation);
        });
    }

    private static Command Change(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var saw = Saw();
        var blade = Text("--blade", "Name of the new blade; made from saw and time unless told.", "NAME");
        var at = Text("--at", $"When it was changed: {MomentText.Forms}; now unless told.", "TIME");
        var note = Text("--note", "What else should be remembered.", "TEXT");
        return Build("change", "Enter that another blade was put on a saw.", environment, time, units: false, [saw, blade, at, note], (work, arguments, cancellation) =>
            work.ChangeAsync(arguments.GetRequiredValue(saw), Clean(arguments.GetValue(blade)), arguments.GetValue(at), Clean(arguments.GetValue(note)) ?? "", cancellation));
    }

    private static Command Correct(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var saw = Saw();
        var at = new Option<string>("--at") { Description = "The entry or proposal that is meant, by its time as 'blade list' shows it.", HelpName = "TIME", Required = true };
        var to = Text("--to", "When the blade was changed in truth.", "TIME");
        var blade = Text("--blade", "Which blade it was in truth; confirms a proposal.", "NAME");
        var remove = new Option<bool>("--remove") { Description = "The entry was a mistake; what would be known without it holds again." };
        var none = new Option<bool>("--none") { Description = "No blade was changed there; denies a proposal." };
        return Build("correct", "Correct an entry, or confirm, correct or deny a proposed change. The records are computed anew.", environment, time, units: false, [saw, at, to, blade, remove, none], (work, arguments, cancellation) =>
            work.CorrectAsync(
                arguments.GetRequiredValue(saw),
                arguments.GetRequiredValue(at),
                new BladeCorrection(arguments.GetValue(to), Clean(arguments.GetValue(blade)), arguments.GetValue(remove), arguments.GetValue(none)),
                cancellation));
    }

    private static Command Retire(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var saw = Saw();
        var blade = new Argument<string>("blade") { Description = "The blade." };
        var at = Text("--at", "When it was taken out of use; now unless told.", "TIME");
        var note = Text("--note", "What else should be remembered.", "TEXT");
        return Build("retire", "Enter that a blade will not be used again.", environment, time, units: false, [saw, blade, at, note], (work, arguments, cancellation) =>
            work.RetireAsync(arguments.GetRequiredValue(saw), Clean(arguments.GetRequiredValue(blade))!, arguments.GetValue(at), Clean(arguments.GetValue(note)) ?? "", cancellation));
    }

    private static Command Forecast(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var saw = Saw();
        var blade = Text("--blade", "A blade that was on the saw before; the one that is on it unless told.", "NAME");
        var ascii = new Option<bool>("--ascii") { Description = "Draw with plain ASCII characters." };
        return Build("forecast", "The wear of the blade on a saw: a plot, and when it will be dull.", environment, time, units: true, [saw, blade, ascii], (work, arguments, cancellation) =>
            work.ForecastAsync(arguments.GetRequiredValue(saw), Clean(arguments.GetValue(blade)), arguments.GetValue(ascii), cancellation));
    }

    private static Command Build(
        string name, string description, IReadOnlyDictionary<string, string> environment, TimeProvider time, bool units, IReadOnlyList<Symbol> symbols, Func<BladeWork, ParseResult, CancellationToken, Task> run)
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

        folder.AddTo(command, units);
        command.SetAction((arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            return DataFolderOptions.RunAsync(console.Error, async () =>
            {
                var work = new BladeWork(folder.Read(arguments, environment), new TextPage(console.Output), time) { Units = units ? folder.Units(arguments) : default };
                await run(work, arguments, cancellation);
                return ExitCodes.Done;
            }, cancellation);
        });
        return command;
    }

    private static Argument<string> Saw() => new("saw") { Description = "The saw." };

    private static Option<string?> Text(string name, string description, string help) => new(name) { Description = description, HelpName = help };

    private static string? Clean(string? text) => text is null ? null : ControllerText.Clean(text);
}
