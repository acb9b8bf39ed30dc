using System.CommandLine;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Estimate;

/// <summary>
/// <c>estimate --material M --section S ...</c>: what a cut should take, and every number that leads there with where it comes
/// from. Reads at most a configuration; runs nothing. Exit codes: <see cref="ExitCodes"/>.
/// </summary>
public static class EstimateCommand
{
    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(ConfigurationFile.Environment());

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment)
    {
        var options = new EstimateOptions();
        var form = new Option<string>("--format") { Description = "How to print: for people or for programs.", DefaultValueFactory = _ => "text" };
        var units = new Option<string>("--units") { Description = "Units of the text; JSON is always metric.", DefaultValueFactory = _ => "metric" };
        form.AcceptOnlyFromAmong("text", "json");
        units.AcceptOnlyFromAmong("metric", "inch");
        var command = new Command(
            "estimate",
            "Estimate a cut: band speed, cutting rate, times, feed, teeth, motor power, parts of a bar, and the numbers that lead to each. Values are written with units: \"100 mm\", \"4 in\", \"7.5 hp\".");
        foreach (var option in options.All)
            command.Options.Add(option);
        command.Options.Add(form);
        command.Options.Add(units);
        command.SetAction(arguments =>
        {
            var console = arguments.InvocationConfiguration;
            var request = new EstimateReader(options, arguments, environment).Read(out var problems);
            if (request is null)
            {
                foreach (var problem in problems)
                    console.Error.WriteLine(problem);
                return ExitCodes.WrongInput;
            }

            foreach (var doubt in request.Doubts)
                console.Error.WriteLine($"warning: {doubt}");
            var report = new EstimateItems(request).Build();
            if (arguments.GetValue(form) == "json")
                console.Output.WriteLine(EstimateJson.Write(report));
            else
                new EstimateText(console.Output, arguments.GetValue(units) == "inch" ? DisplayUnits.Inch : DisplayUnits.Metric).Write(report);
            return ExitCodes.Done;
        });
        return command;
    }
}
