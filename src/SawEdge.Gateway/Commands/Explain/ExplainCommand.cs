using System.CommandLine;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Explain;

/// <summary><c>explain CYCLE</c>, <c>explain SAW [TIME]</c>: every number that led to the load score of one cut. Exit codes: <see cref="ExitCodes"/>.</summary>
public static class ExplainCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment(), TimeProvider.System);

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var what = new Argument<string>("cycle") { Description = "Identity of a cycle, or a saw: its last cut." };
        var at = new Argument<string?>("time") { Description = $"With a saw: the cut at that time, {MomentText.Forms}.", Arity = ArgumentArity.ZeroOrOne };
        var form = new Option<string>("--format") { Description = "How to print: for people or for programs.", DefaultValueFactory = _ => "text" };
        form.AcceptOnlyFromAmong("text", "json");
        var ascii = new Option<bool>("--ascii") { Description = "Draw with plain ASCII characters." };
        var folder = new DataFolderOptions();
        var command = new Command("explain", "Explain one cut: every number that led to its load score, likely causes, and its load along the depth.") { what, at, form, ascii };
        folder.AddTo(command, units: true);
        command.SetAction((arguments, cancellation) =>
        {
            var console = arguments.InvocationConfiguration;
            return DataFolderOptions.RunAsync(console.Error, async () =>
            {
                var named = folder.Read(arguments, environment);
                var moments = new MomentText(named.At(time));
                var cut = await Explained.FindAsync(named, arguments.GetRequiredValue(what), arguments.GetValue(at), moments, cancellation);
                if (arguments.GetValue(form) == "json")
                    await console.Output.WriteLineAsync(ExplainJson.Write(cut));
                else
                    new ExplainText(new TextPage(console.Output), moments, folder.Units(arguments), arguments.GetValue(ascii)).Write(cut);
                return ExitCodes.Done;
            }, cancellation);
        });
        return command;
    }
}
