using System.CommandLine;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Commands.FirstRun;

/// <summary>A question, and the option that answers it beforehand.</summary>
/// <param name="Option">The option.</param>
/// <param name="Words">The question.</param>
/// <param name="Usual">What holds where the answer is empty; null: there has to be one.</param>
internal sealed record InitQuestion(Option<string?> Option, string Words, string? Usual)
{
    /// <summary>The answers there can be; none: any.</summary>
    public IReadOnlyList<string> Choices { get; init; } = [];
}

/// <summary>What was answered.</summary>
/// <param name="Site">Name of the plant.</param>
/// <param name="Gateway">Name of the gateway.</param>
/// <param name="TimeZone">IANA name of the plant's time zone.</param>
/// <param name="Units">Units of messages.</param>
/// <param name="Data">Folder of the history.</param>
/// <param name="Saws">Names of the saws.</param>
/// <param name="Source">How they are read.</param>
/// <param name="Addresses">Where their controllers or their broker are: one for all, or one a saw.</param>
/// <param name="Influx">Address of an InfluxDB server, or empty.</param>
internal sealed record InitAnswers(string Site, string Gateway, string TimeZone, string Units, string Data, IReadOnlyList<string> Saws, string Source, IReadOnlyList<string> Addresses, string Influx);

/// <summary>What has to be known to begin with.</summary>
internal static class InitQuestions
{
    private const int MostTries = 3;

    /// <summary>All of them, in the order in which they are asked.</summary>
    public static IReadOnlyList<InitQuestion> All(TimeZoneInfo local) =>
    [
        Question("--site", "NAME", "Name of the plant", null),
        Question("--gateway", "NAME", "Name of this gateway, such as that of its hall", "hall-1"),
        Question("--time-zone", "ZONE", "The plant's time zone, as in Europe/Berlin", ZoneNames.Iana(local)),
        Question("--units", "UNITS", "Units in which people read messages", "metric", "metric", "inch"),
        Question("--data", "FOLDER", "Folder of the history", Directory.Exists("/var/lib/sawedge") ? "/var/lib/sawedge" : "sawedge-data"),
        Question("--saws", "NAMES", "Names of the saws, with commas between them", "saw-1"),
        Question("--source", "SOURCE", "How they are read", "modbus", "modbus", "mqtt"),
        Question("--address", "HOST[:PORT]", "Host (and port) of the controller, or of the broker; for each saw one of its own with commas between them", null),
        Question("--influx", "URL", "Address of an InfluxDB 2 server, such as http://127.0.0.1:8086; - for none", "-"),
    ];

    /// <summary>Takes the options, and asks for the rest.</summary>
    /// <param name="questions">The questions.</param>
    /// <param name="arguments">The command line.</param>
    /// <param name="ask">Asks a person; null where nobody can be asked.</param>
    /// <exception cref="CommandException">Something is missing or is none of the choices.</exception>
    public static InitAnswers Answer(IReadOnlyList<InitQuestion> questions, ParseResult arguments, Func<string, string?>? ask)
    {
        var given = questions.Select(question => arguments.GetValue(question.Option)?.Trim()).ToList();
        var missing = questions.Where((question, i) => string.IsNullOrEmpty(given[i]) && question.Usual is null).Select(question => question.Option.Name).ToList();
        if (ask is null && missing.Count > 0)
            throw new CommandException($"{string.Join(" and ", missing)} {(missing.Count == 1 ? "is" : "are")} missing; there is nobody to be asked.");
        var answers = questions.Select((question, i) => Answer(question, given[i], ask)).ToList();
        var (saws, addresses) = (List(answers[5]), List(answers[7]));
        if (addresses.Count != 1 && addresses.Count != saws.Count)
            throw new CommandException($"--address names {addresses.Count} hosts for {saws.Count} saws; name one for all of them, or one for each.");
        if (answers[6] == "mqtt" && addresses.Count != 1)
            throw new CommandException("--address names several brokers; name one here, and add others to the file.");
        if (answers[8] != "-" && !(Uri.TryCreate(answers[8], UriKind.Absolute, out var url) && url.Scheme is ("http" or "https")))
            throw new CommandException($"--influx is an address such as http://127.0.0.1:8086, or - for none; not {Words.Quoted(answers[8])}.");
        return new InitAnswers(answers[0], answers[1], answers[2], answers[3], answers[4], saws, answers[6], addresses, answers[8] == "-" ? "" : answers[8]);
    }

    private static InitQuestion Question(string option, string help, string words, string? usual, params string[] choices) =>
        new(new Option<string?>(option) { Description = words + (usual is null ? "." : $" [{usual}]."), HelpName = help }, words, usual) { Choices = choices };

    private static string Answer(InitQuestion question, string? given, Func<string, string?>? ask)
    {
        for (var tries = 0; ; tries++)
        {
            if (string.IsNullOrEmpty(given))
                given = ask?.Invoke($"{question.Words}{(question.Choices.Count > 0 ? $" ({string.Join(" or ", question.Choices)})" : "")}{(question.Usual is { } usual ? $" [{usual}]" : "")}: ")?.Trim();
            given = string.IsNullOrEmpty(given) ? question.Usual : given;
            if (given is not null && (question.Choices.Count == 0 || question.Choices.Contains(given)))
                return given;
            if (ask is null || tries == MostTries)
                throw new CommandException(given is null ? $"{question.Option.Name} is missing." : $"{question.Option.Name} is {string.Join(" or ", question.Choices)}, not {Words.Quoted(given)}.");
            given = null;
        }
    }

    private static List<string> List(string words) => [.. words.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)];
}
