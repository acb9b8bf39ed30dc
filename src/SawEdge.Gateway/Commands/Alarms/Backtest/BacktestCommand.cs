using System.CommandLine;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Alarms.Backtest;

/// <summary><c>alarm backtest</c>: rules tried on the past before they go live. Nothing is sent or stored. Exit codes: <see cref="ExitCodes"/>.</summary>
internal static class BacktestCommand
{
    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    public static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time)
    {
        var folder = new DataFolderOptions();
        var input = new Option<string[]>("--input", "-i")
        {
            Description = "Recordings to try the rules on, with rules on signals: files (.csv, .csv.gz), folders or patterns; the history's finished cuts unless told.",
            HelpName = "FILES",
            AllowMultipleArgumentsPerToken = true,
        };
        var against = AlarmCommand.Text("--against", "Another configuration, whose rules are tried on the same and shown side by side.", "FILE");
        var from = AlarmCommand.Text("--from", $"Only what began at that time or later, {MomentText.Forms}.", "TIME");
        var to = AlarmCommand.Text("--to", "Only what began before that time.", "TIME");
        var anew = new Option<bool>("--anew") { Description = "Compute the load score anew with the configuration's settings, as after another rate of accepted false alarms; slower." };
        var jobs = AlarmCommand.Text("--jobs", "With --input: job list (CSV or JSON), in place of the configuration's.", "FILE");
        var saw = AlarmCommand.Text("--recorded-saw", "With --input: name of the saw, for recordings without the column 'saw'; otherwise the file's name counts.", "NAME");
        var answer = new Option<string>("--answer-after") { Description = "How soon people are taken to acknowledge and reset an alarm, for example \"1 h\"; or never.", HelpName = "TIME", DefaultValueFactory = _ => "15 min" };
        var json = AlarmCommand.Json();
        var csv = new Option<bool>("--csv") { Description = "Print the alarms that would have come as a table." };
        const string Description = "Try the rules of a configuration on the past: which alarms would have come, how many, who would have been told, and how that fits what people found. Nothing is sent or stored.";
        return AlarmCommand.Build("backtest", Description, folder, units: false, [input, against, from, to, anew, jobs, saw, answer, json, csv], async (arguments, cancellation) =>
        {
            if (arguments.GetValue(json) && arguments.GetValue(csv))
                throw new CommandException("--json and --csv exclude each other.");
            var inputs = arguments.GetValue(input) ?? [];
            var settings = new BacktestSettings
            {
                Inputs = inputs,
                From = arguments.GetValue(from),
                To = arguments.GetValue(to),
                Anew = arguments.GetValue(anew),
                JobsFile = arguments.GetValue(jobs),
                RecordedSaw = arguments.GetValue(saw) is { } name ? ControllerText.Clean(name) : null,
                AnswerAfter = AnswerAfter(arguments.GetRequiredValue(answer)),
            };
            settings.Check();
            var named = folder.Read(arguments, environment);
            if (named.Options is not { } options)
                throw new CommandException("--data alone names no rules; name the configuration with --config as well.");
            var console = arguments.InvocationConfiguration;
            var run = new BacktestRun(settings, named, time, console.Error.WriteLine);
            var results = new List<BacktestResult> { await run.RunAsync(named.ConfigFile, options, cancellation) };
            if (arguments.GetValue(against) is { } other)
                results.Add(await run.RunAsync(other, DataFolderOptions.Load(other, environment), cancellation));
            Print(results, arguments.GetValue(json), arguments.GetValue(csv), console.Output, named.At(time));
            return ExitCodes.Done;
        });
    }

    private static void Print(List<BacktestResult> results, bool json, bool csv, TextWriter output, TimeProvider time)
    {
        if (json)
        {
            output.WriteLine(BacktestData.Json(results));
            return;
        }

        if (csv)
        {
            output.Write(BacktestData.Csv(results));
            return;
        }

        var (page, moments) = (new TextPage(output), new MomentText(time));
        foreach (var (index, result) in results.Index())
        {
            if (index > 0)
                page.Line("");
            new BacktestText(page, moments).Write(result);
        }

        if (results is [var one, var two])
            new ComparisonText(page, moments).Write(one, two);
    }

    private static TimeSpan? AnswerAfter(string written)
    {
        if (written.Trim().Equals("never", StringComparison.OrdinalIgnoreCase))
            return null;
        return MomentText.Span(written) ?? throw new CommandException($"--answer-after '{written}' is no span of time; write for example \"15 min\" or \"1 h\", or never.");
    }
}
