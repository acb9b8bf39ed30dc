using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Http;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Api;

/// <summary>
/// Reads the parameters of a request and says in words what is wrong with each. Ask for all of them, then look at <see cref="Problem"/>
/// before using any.
/// </summary>
/// <param name="query">The parameters as they came.</param>
/// <param name="context">The gateway.</param>
internal sealed class QueryReader(IQueryCollection query, ApiContext context)
{
    /// <summary>The longest text that is taken, characters.</summary>
    public const int LongestText = 200;

    /// <summary>The longest period that is answered where nothing else is said.</summary>
    public static readonly TimeSpan LongestPeriod = TimeSpan.FromDays(400);

    private const string MomentExample = "2026-03-02T06:00:00Z";
    private const int LongestQuoted = 40;

    private readonly HashSet<string> _known = new(StringComparer.Ordinal);
    private readonly List<ParameterProblem> _problems = [];

    /// <summary>Adds what is wrong with a parameter.</summary>
    /// <param name="name">The parameter.</param>
    /// <param name="detail">What is wrong and what would be right, without a full stop.</param>
    public void Wrong(string name, string detail) => _problems.Add(new ParameterProblem(name, detail));

    /// <summary>A text, or null where it is left out.</summary>
    public string? Text(string name) => One(name) switch
    {
        null => null,
        { Length: > LongestText } => Refuse(name, string.Create(CultureInfo.InvariantCulture, $"is longer than {LongestText} characters")),
        var text when text.Any(char.IsControl) => Refuse(name, "holds control characters; leave them out"),
        var text => text,
    };

    /// <summary>Name of a configured saw, or null where it is left out.</summary>
    public string? Saw(string name = "saw") => Text(name) is { } saw && (context.HasSaw(saw) || NoSaw(name, saw)) ? saw : null;

    /// <summary>Name of a configured saw that must be told.</summary>
    public string? RequiredSaw(string name = "saw")
    {
        if (One(name) is null)
            Wrong(name, $"is missing; name a saw: {SawNames}");
        return Saw(name);
    }

    /// <summary>Names of configured saws, the parameter once for each; null where it is left out.</summary>
    public IReadOnlyList<string>? Saws(string name = "saw")
    {
        _known.Add(name);
        var saws = query[name].OfType<string>().Where(saw => saw.Length > 0).Distinct(StringComparer.Ordinal).ToList();
        foreach (var saw in saws)
        {
            if (!context.HasSaw(saw) && NoSaw(name, saw))
                break;
        }

        return saws.Count == 0 ? null : saws;
    }

    /// <summary>Texts, the parameter once for each; null where it is left out.</summary>
    public IReadOnlyList<string>? Texts(string name)
    {
        _known.Add(name);
        var texts = query[name].OfType<string>().Where(text => text.Length > 0).Distinct(StringComparer.Ordinal).ToList();
        if (texts.Exists(text => text.Length > LongestText))
            Wrong(name, string.Create(CultureInfo.InvariantCulture, $"is longer than {LongestText} characters"));
        else if (texts.Exists(text => text.Any(char.IsControl)))
            Wrong(name, "holds control characters; leave them out");
        return texts.Count == 0 ? null : texts;
    }

    /// <summary>Some of some words, the parameter once for each; null where it is left out.</summary>
    public IReadOnlyList<string>? Choices(string name, params IReadOnlyList<string> words)
    {
        var chosen = Texts(name);
        if (chosen?.FirstOrDefault(text => !words.Contains(text)) is { } unknown)
            Wrong(name, $"{Quoted(unknown)} is not known here; write one of {string.Join(", ", words)}");
        return chosen;
    }

    /// <summary>Some of many names, with commas between them or the parameter once for each; null where it is left out.</summary>
    public IReadOnlyList<string>? Names(string name, IReadOnlyCollection<string> names)
    {
        _known.Add(name);
        var chosen = query[name].OfType<string>().SelectMany(text => text.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)).ToList();
        if (chosen.Find(text => !names.Contains(text)) is { } unknown)
            Wrong(name, $"there is no {Quoted(unknown)} here; {(Words.Nearest(unknown, names) is { } nearest ? $"the nearest is {nearest}" : $"known here: {string.Join(", ", names)}")}");
        return chosen.Count == 0 ? null : chosen;
    }

    /// <summary>A moment, or null where it is left out.</summary>
    public DateTimeOffset? Moment(string name)
    {
        if (One(name) is not { } text)
            return null;
        if (TryMoment(text, out var time))
            return time;
        Wrong(name, $"{Quoted(text)} is no time; write RFC 3339 with a zone, for example {MomentExample}");
        return null;
    }

    /// <summary>The period <c>from</c> to <c>to</c>, which must be told; null where something is wrong with it.</summary>
    /// <param name="longest">The longest that is answered; null: <see cref="LongestPeriod"/>.</param>
    public Period? RequiredPeriod(TimeSpan? longest = null)
    {
        foreach (var name in (string[])["from", "to"])
        {
            if (One(name) is null)
                Wrong(name, $"is missing; write a time, for example {MomentExample}");
        }

        var (from, to) = OpenPeriod(longest);
        return from is { } start && to is { } end && end > start ? new Period(start, end) : null;
    }

    /// <summary>The period <c>from</c> to <c>to</c>, either of which may be left out.</summary>
    /// <param name="longest">The longest that is answered where both are told; null: <see cref="LongestPeriod"/>.</param>
    public (DateTimeOffset? From, DateTimeOffset? To) OpenPeriod(TimeSpan? longest = null)
    {
        var (from, to) = (Moment("from"), Moment("to"));
        if (from is not { } start)
            return (from, to);
        var most = longest ?? LongestPeriod;
        if (start > context.Now)
            Wrong("from", $"lies in the future: it is {ApiJson.Moment(context.Now)} now");
        else if (to is { } end && end <= start)
            Wrong("to", $"is not after from ({ApiJson.Moment(start)}); a period ends after it begins");
        else if (to is { } late && late - start > most)
            Wrong("to", string.Create(CultureInfo.InvariantCulture, $"is {(late - start).TotalDays:0.#} days after from; ask for {most.TotalDays:0.#} days at most"));
        return (from, to);
    }

    /// <summary>A whole number within bounds.</summary>
    /// <param name="name">The parameter.</param>
    /// <param name="fallback">What holds where it is left out.</param>
    /// <param name="least">The least.</param>
    /// <param name="most">The most.</param>
    public int Number(string name, int fallback, int least, int most)
    {
        if (One(name) is not { } text)
            return fallback;
        if (int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var number) && number >= least && number <= most)
            return number;
        Wrong(name, string.Create(CultureInfo.InvariantCulture, $"{Quoted(text)} is no whole number from {least} to {most}"));
        return fallback;
    }

    /// <summary>How many items a page has.</summary>
    public int Limit(int fallback = 100, int most = 500) => Number("limit", fallback, 1, most);

    /// <summary>A number within bounds, or null where it is left out.</summary>
    public double? Quantity(string name, double least, double most)
    {
        if (One(name) is not { } text)
            return null;
        if (double.TryParse(text, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var number) && number >= least && number <= most)
            return number;
        Wrong(name, string.Create(CultureInfo.InvariantCulture, $"{Quoted(text)} is no number from {least} to {most}, written with a decimal point"));
        return null;
    }

    /// <summary><c>true</c> or <c>false</c>; the parameter alone, without a value, means true.</summary>
    public bool Flag(string name, bool fallback = false)
    {
        _known.Add(name);
        if (!query.TryGetValue(name, out var values))
            return fallback;
        switch (values.Count == 1 ? values[0] : null)
        {
            case "" or "true" or "1":
                return true;
            case "false" or "0":
                return false;
            default:
                Wrong(name, $"{Quoted(values.ToString())} is neither true nor false");
                return fallback;
        }
    }

    /// <summary>One of some words.</summary>
    /// <param name="name">The parameter.</param>
    /// <param name="fallback">What holds where it is left out; null: it must be told.</param>
    /// <param name="words">The words.</param>
    [return: NotNullIfNotNull(nameof(fallback))]
    public string? Choice(string name, string? fallback, params IReadOnlyList<string> words)
    {
        var text = One(name);
        if (text is not null && words.Contains(text))
            return text;
        if (text is not null)
            Wrong(name, $"{Quoted(text)} is not known here; write one of {string.Join(", ", words)}");
        else if (fallback is null)
            Wrong(name, $"is missing; write one of {string.Join(", ", words)}");
        return fallback;
    }

    /// <summary>One of some words, or null where it is left out.</summary>
    public string? OptionalChoice(string name, params IReadOnlyList<string> words) => One(name) is null ? null : Choice(name, null, words);

    /// <summary>Where a page begins: what <see cref="CursorText"/> wrote at the end of the page before. Null where it is left out.</summary>
    /// <param name="parts">How many parts it has.</param>
    public string[]? Cursor(int parts)
    {
        if (One("cursor") is not { } text)
            return null;
        if (text.Length <= 2 * LongestText && System.Buffers.Text.Base64Url.IsValid(text))
        {
            var read = Encoding.UTF8.GetString(System.Buffers.Text.Base64Url.DecodeFromChars(text)).Split('\n');
            if (read.Length == parts)
                return read;
        }

        Wrong("cursor", "is none that this gateway gave; take \"next\" from the page before as it is, or leave it out for the first page");
        return null;
    }

    /// <summary>What a cursor of parts is as text.</summary>
    public static string CursorText(params ReadOnlySpan<string> parts) => System.Buffers.Text.Base64Url.EncodeToString(Encoding.UTF8.GetBytes(string.Join('\n', parts!)));

    /// <summary>What is wrong with the request, parameters that nobody asked for included; null where nothing is.</summary>
    public ApiProblem? Problem()
    {
        foreach (var name in query.Keys.Where(name => !_known.Contains(name)))
            Wrong(name.Length > LongestQuoted ? name[..LongestQuoted] : name, $"is not known here; known here: {(_known.Count == 0 ? "nothing" : string.Join(", ", _known))}");
        return _problems.Count == 0 ? null : ApiProblem.Parameters(_problems);
    }

    /// <summary>Reads a moment as RFC 3339.</summary>
    public static bool TryMoment(string? text, out DateTimeOffset time)
    {
        // A '+' that was not escaped arrives as a blank: the only blank that can stand six characters before the end of a time.
        if (text is { Length: > 20 } && text[^6] == ' ')
            text = $"{text[..^6]}+{text[^5..]}";
        time = default;
        return text is { Length: <= 40 } && Rfc3339.TryParse(Encoding.UTF8.GetBytes(text), out time);
    }

    /// <summary>A text of a stranger as it may be repeated to him.</summary>
    public static string Quoted(string text) => $"'{(text.Length > LongestQuoted ? string.Concat(text.AsSpan(0, LongestQuoted), "...") : text)}'";

    private string SawNames => string.Join(", ", context.Options.Saws.Select(saw => saw.Name));

    private bool NoSaw(string name, string saw)
    {
        Wrong(name, $"there is no saw {Quoted(saw)} here; the saws are {SawNames}");
        return false;
    }

    private string? One(string name)
    {
        _known.Add(name);
        if (!query.TryGetValue(name, out var values) || values.Count == 0)
            return null;
        if (values.Count > 1)
            return Refuse(name, "stands there more than once; write it once");
        return values[0] is { Length: > 0 } text ? text : null;
    }

    private string? Refuse(string name, string detail)
    {
        Wrong(name, detail);
        return null;
    }
}
