using System.CommandLine;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Export;

namespace SawEdge.Gateway.Commands.Export;

/// <summary><c>export TABLE</c>: the history as a table for other programs; <c>export --describe</c>: what its columns mean. Works beside a running gateway. Exit codes: <see cref="ExitCodes"/>.</summary>
public static class ExportCommand
{
    private static readonly string[] Descriptions = ["text", "markdown", "json"];

    /// <summary>Builds the command.</summary>
    public static Command Create() => Create(
        ConfigurationFile.Environment(),
        TimeProvider.System,
        console => new ExportPlaces(StandardOutput.Open, !Console.IsOutputRedirected, console.Output, console.Error, WorkProgress.OnError(console.Error)));

    /// <summary>Builds the command.</summary>
    /// <param name="environment">Environment variables that lie over the configuration.</param>
    /// <param name="time">Clock and time zone.</param>
    /// <param name="places">Where bytes and words go.</param>
    internal static Command Create(IReadOnlyDictionary<string, string> environment, TimeProvider time, Func<InvocationConfiguration, ExportPlaces> places)
    {
        var table = new Argument<string?>("table") { Description = $"What to export: {string.Join(", ", ExportTables.All.Select(known => known.Name))}.", Arity = ArgumentArity.ZeroOrOne };
        var from = Text("--from", $"From that time on: {MomentText.Forms}.", "TIME");
        var to = Text("--to", "Up to that time; of a day, week or month that is named, to its end.", "TIME");
        var (saw, job, material, blade) = (List("--saw", "saw"), List("--job", "job"), List("--material", "material"), List("--blade", "blade"));
        var outcome = List("--outcome", "outcome");
        var least = Text("--min-score", "Only cycles with at least this load score.", "SCORE");
        var greatest = Text("--max-score", "Only cycles with at most this load score.", "SCORE");
        var columns = new Option<string[]>("--columns") { Description = "Only these columns, in this order, with commas between them; all unless told.", HelpName = "A,B,C" };
        var format = Text("--format", $"{string.Join(", ", ExportFiles.Formats)}; as the file's name ends unless told, and CSV where that says nothing. With --describe: {string.Join(", ", Descriptions)}.", "FORMAT", "-f");
        var gzip = new Option<bool>("--gzip") { Description = "Compress CSV and JSON lines; so does a file name that ends with .gz." };
        var text = Text("--text", "In CSV and workbooks: 'safe' puts a ' before texts that a spreadsheet would run as a formula; 'as-is' leaves them, for programs.", "safe|as-is");
        var output = Text("--out", "File to write, replaced when the export is whole; or a folder, in which the file is named by table and period. Standard output where it is '-' or left out.", "FILE", "-o");
        var describe = new Option<bool>("--describe") { Description = "Say what the columns of the table, or of all tables, mean; export nothing." };
        var folder = new DataFolderOptions();
        var command = new Command("export", "Export the history as a table: CSV, JSON lines, Parquet or a workbook. Works beside a running gateway.")
        {
            table, from, to, saw, job, material, blade, outcome, least, greatest, columns, format, gzip, text, output, describe,
        };
        folder.AddTo(command, units: true);
        command.SetAction((arguments, cancellation) => DataFolderOptions.RunAsync(
            arguments.InvocationConfiguration.Error,
            async () =>
            {
                var asked = new ExportAsked
                {
                    Table = arguments.GetValue(table),
                    From = arguments.GetValue(from),
                    To = arguments.GetValue(to),
                    Saws = arguments.GetValue(saw) ?? [],
                    Jobs = arguments.GetValue(job) ?? [],
                    Materials = arguments.GetValue(material) ?? [],
                    Blades = arguments.GetValue(blade) ?? [],
                    Outcomes = arguments.GetValue(outcome) ?? [],
                    LeastScore = arguments.GetValue(least),
                    GreatestScore = arguments.GetValue(greatest),
                    Columns = arguments.GetValue(columns) ?? [],
                    Units = folder.Units(arguments),
                    Format = arguments.GetValue(format),
                    Gzip = arguments.GetValue(gzip),
                    Text = arguments.GetValue(text),
                    Out = arguments.GetValue(output),
                };
                if (arguments.GetValue(describe))
                    return await DescribeAsync(asked, arguments.InvocationConfiguration.Output, cancellation);

                // What is wrong on the command line is said first, whether or not there is a history.
                asked.Question(new MomentText(time));
                asked.Style();
                return await new ExportWork(folder.Read(arguments, environment), asked, places(arguments.InvocationConfiguration), time).RunAsync(cancellation);
            },
            cancellation));
        return command;
    }

    private static async Task<int> DescribeAsync(ExportAsked asked, TextWriter output, CancellationToken cancellation)
    {
        IReadOnlyList<ExportTable> tables = asked.Table is { } name ? [ExportAsked.FindTable(name)] : ExportTables.All;
        var words = asked.Format switch
        {
            null or "text" => DescribedTables.Text(tables),
            "markdown" => TableDescriptions.Markdown(tables),
            "json" => TableDescriptions.Json(tables),
            var other => throw new CommandException($"--describe --format '{other}' is not known; {NamedFolder.Hint(other, Descriptions)}"),
        };
        if (asked.ToStandardOutput)
            await output.WriteAsync(words.AsMemory(), cancellation);
        else
            await File.WriteAllTextAsync(asked.Out!, words, cancellation);
        return ExitCodes.Done;
    }

    private static Option<string?> Text(string name, string description, string help, params string[] aliases) => new(name, aliases) { Description = description, HelpName = help };

    private static Option<string[]> List(string name, string what) => new(name) { Description = $"Only this {what}; may stand there several times.", HelpName = what.ToUpperInvariant() };
}
