using System.CommandLine;
using System.Globalization;
using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Hosting;

namespace SawEdge.Gateway.Commands;

/// <summary><c>run [FILE]</c>: the gateway itself, until it is stopped. Exit codes: <see cref="ExitCodes"/>.</summary>
internal static class RunCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create()
    {
        var file = new Argument<string>("file") { Description = "The configuration file.", DefaultValueFactory = _ => ConfigurationFile.DefaultName };
        var log = new Option<LogForm>("--log") { Description = "How to log: text, for people, or json, for programs." };
        var level = new Option<LogLevel>("--level") { Description = "Least level that is logged, where \"logging\" in the configuration says nothing.", DefaultValueFactory = _ => LogLevel.Information };
        var command = new Command("run", "Run the gateway: read the saws, keep the history, deliver. Ctrl+C or a stop of the service ends it cleanly.") { file, log, level };
        command.SetAction(async (arguments, cancellation) =>
        {
            var error = arguments.InvocationConfiguration.Error;
            var path = arguments.GetValue(file)!;
            var environment = ConfigurationFile.Environment();
            var loaded = ConfigurationFile.Load(path, environment);
            if (loaded.Options is not { } options)
            {
                var words = new StringWriter(CultureInfo.InvariantCulture);
                CheckCommand.Run(path, environment, strict: false, words);
                return NotStarted(words.ToString(), error);
            }

            if (SourceLoops.Live(options).Saws.Count == 0)
                return NotStarted($"{path}: no saw has a live source: \"source\": \"recording\" is for 'sawedge replay --config {path}' alone.{Environment.NewLine}", error);

            foreach (var warning in loaded.Warnings)
                await error.WriteLineAsync(CheckCommand.Line(path, warning));
            var watched = new WatchedConfiguration(path, environment, loaded);
            var failure = await GatewayHost.RunAsync(options, new GatewayClocks(TimeProvider.System, TimeProvider.System, MachineBoot.Read()), arguments.GetValue(log), arguments.GetValue(level), onFinished: null, onAlarm: null, watched, cancellation);
            return failure is null ? ExitCodes.Done : ExitCodes.Failed;
        });
        return command;
    }

    private static int NotStarted(string words, TextWriter error)
    {
        error.Write(words);
        WindowsService.TellWhyNot(words);
        return ExitCodes.WrongInput;
    }
}
