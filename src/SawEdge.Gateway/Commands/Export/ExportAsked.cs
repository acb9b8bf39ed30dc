using System.Globalization;
using SawEdge.Core.Cycles;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.Export;
using SawEdge.Gateway.Formats.Tables;

namespace SawEdge.Gateway.Commands.Export;

/// <summary>What a person asked <c>export</c> for, in his words; turns them into a question and a style, or says what would be right.</summary>
internal sealed record ExportAsked
{
    /// <summary>What stands for standard output.</summary>
    public const string StandardOutputName = "-";

    private static readonly string[] OutcomeNames = [.. Enum.GetValues<CutOutcome>().Select(outcome => outcome.ToName())];

    public string? Table { get; init; }

    public string? From { get; init; }

    public string? To { get; init; }

    public required IReadOnlyList<string> Saws { get; init; }

    public required IReadOnlyList<string> Jobs { get; init; }

    public required IReadOnlyList<string> Materials { get; init; }

    public required IReadOnlyList<string> Blades { get; init; }

    public required IReadOnlyList<string> Outcomes { get; init; }

    public string? LeastScore { get; init; }

    public string? GreatestScore { get; init; }

    public required IReadOnlyList<string> Columns { get; init; }

    public DisplayUnits Units { get; init; }

    public string? Format { get; init; }

    public bool Gzip { get; init; }

    public string? Text { get; init; }

    public string? Out { get; init; }

    /// <summary>Whether it goes to standard output.</summary>
    public bool ToStandardOutput => Out is null or StandardOutputName or "/dev/stdout";

    /// <summary>The question.</summary>
    /// <exception cref="CommandException">Something in it is not known.</exception>
    public ExportQuestion Question(MomentText moments)
    {
        var table = FindTable(Table ?? throw new CommandException($"The table is missing; write one of {Tables} (sawedge export cycles), or --describe to see what they hold."));
        var (from, to) = (From is null ? (DateTimeOffset?)null : moments.Parse("--from", From), To is null ? (DateTimeOffset?)null : moments.ParseEnd("--to", To));
        if (from is { } begin && to is { } end && end <= begin)
            throw new CommandException($"--from '{From}' to --to '{To}' ends before it begins: {moments.Of(begin)} to {moments.Of(end)}.");
        var (least, greatest) = (Score("--min-score", LeastScore), Score("--max-score", GreatestScore));
        if (least > greatest)
            throw new CommandException($"--min-score {LeastScore} is greater than --max-score {GreatestScore}: nothing lies between them.");
        return new ExportQuestion
        {
            Table = table,
            From = from,
            To = to,
            Saws = Some(Saws),
            Jobs = Some(Jobs),
            Materials = Some(Materials),
            Blades = Some(Blades),
            Outcomes = Outcomes.Count == 0 ? null : [.. Outcomes.Distinct(StringComparer.Ordinal).Select(Outcome)],
            LeastScore = least,
            GreatestScore = greatest,
            Columns = Columns.Count == 0 ? null : [.. Columns.SelectMany(list => list.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries))],
            Units = Units,
        };
    }

    /// <summary>How it is written: as asked, or as the file's name ends.</summary>
    /// <exception cref="CommandException">There is no such format, or the file's name says another.</exception>
    public TableStyle Style()
    {
        var byName = ToStandardOutput || IsFolder ? null : ExportFiles.OfEnding(Out!);
        var format = Format is { } word
            ? ExportFiles.Format(word) ?? throw new CommandException($"There is no format {Words.Quoted(word)}; {NamedFolder.Hint(word, ExportFiles.Formats)}")
            : byName?.Format ?? (ToStandardOutput || IsFolder ? TableFormat.Csv : throw new CommandException($"--out {Out}: no format ends like that; end it with .csv, .jsonl, .parquet or .xlsx (.csv.gz and .jsonl.gz for compressed ones), or name the format with --format."));
        if (byName is not null && byName.Format != format)
            throw new CommandException($"--out {Out} ends like {ExportFiles.Word(byName.Format)}, and --format says {Format}; leave one of them out.");
        var isCompressed = Gzip || byName?.IsCompressed == true;
        if (isCompressed && !ExportFiles.IsText(format))
            throw new CommandException($"{ExportFiles.Word(format)} is compressed by itself; leave {(Gzip ? "--gzip" : "the .gz")} out.");
        if (Gzip && byName is { IsCompressed: false })
            throw new CommandException($"--gzip: whoever reads {Out} would not know that it is compressed; name it {Out}.gz.");
        var isSafe = Text switch
        {
            null or "safe" => true,
            "as-is" => false,
            _ => throw new CommandException($"--text {Words.Quoted(Text)} is not known; {NamedFolder.Hint(Text, ["safe", "as-is"])}"),
        };
        return new TableStyle { Format = format, IsCompressed = isCompressed, IsSafeForSpreadsheets = isSafe };
    }

    /// <summary>Whether a folder was named, in which the file gets a name of its own.</summary>
    public bool IsFolder => !ToStandardOutput && (Directory.Exists(Out) || Path.EndsInDirectorySeparator(Out!));

    /// <summary>A table by name.</summary>
    /// <exception cref="CommandException">There is none.</exception>
    public static ExportTable FindTable(string name) =>
        ExportTables.Find(name) ?? throw new CommandException($"There is no table {Words.Quoted(name)}; {NamedFolder.Hint(name, [.. ExportTables.All.Select(table => table.Name)])}");

    private static string Tables => Words.Or([.. ExportTables.All.Select(table => table.Name)]);

    private static IReadOnlyList<string>? Some(IReadOnlyList<string> names) => names.Count == 0 ? null : [.. names.Distinct(StringComparer.Ordinal)];

    private static CutOutcome Outcome(string name) => OutcomeNames.Contains(name)
        ? CutOutcomes.Parse(name)
        : throw new CommandException($"There is no outcome {Words.Quoted(name)}; {NamedFolder.Hint(name, OutcomeNames)}");

    // Not left to the parser of the command line: it takes "3,5" for thirty-five.
    private static double? Score(string option, string? written)
    {
        if (written is null)
            return null;
        return double.TryParse(written, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var score) && double.IsFinite(score)
            ? score
            : throw new CommandException($"{option} {Words.Quoted(written)} is no number; write it with a decimal point, for example {option} 2.5.");
    }
}
