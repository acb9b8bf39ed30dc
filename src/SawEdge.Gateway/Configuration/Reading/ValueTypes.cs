using System.Text.RegularExpressions;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>The kinds of single values that settings use.</summary>
internal static partial class ValueTypes
{
    /// <summary>Longest name of a saw, device, broker or destination.</summary>
    public const int LongestName = 64;

    private const string NamePattern = @"^[\p{L}\p{N}](?:[\p{L}\p{N} ._-]{0,62}[\p{L}\p{N}])?$";

    // For the schema: not every editor's regular expressions know \p. Beyond ASCII it lets more through than the rule does.
    private const string PortableNamePattern = @"^[0-9A-Za-z\u00AA-\uFFFF](?:[0-9A-Za-z ._\u00AA-\uFFFF-]{0,62}[0-9A-Za-z\u00AA-\uFFFF])?$";

    /// <summary>
    /// A name that becomes a tag, a part of file names and a column value: letters and digits of any script, blanks and - _ . inside,
    /// at most <see cref="LongestName"/> characters.
    /// </summary>
    public static ConfigType<string> Name(string example) => new TextType("name", example, text => NameRule().IsMatch(text)
        ? null
        : $"{Words.Quoted(text)} is no name; write letters, digits, blanks and - _ . with a letter or digit at both ends, for example \"{example}\"")
    {
        Pattern = PortableNamePattern,
        MaximumLength = LongestName,
    };

    /// <summary>Any text.</summary>
    public static ConfigType<string> Text(string example) => new TextType("text", example);

    /// <summary>A text that must never be shown.</summary>
    public static ConfigType<string> Secret { get; } = new TextType("secret", "") { IsSecret = true, MaximumLength = 64 * 1024 };

    /// <summary>A file or folder; a relative one starts at the folder of the configuration file.</summary>
    public static ConfigType<string> Path(string example) => new TextType("path", example) { MaximumLength = 4096 };

    /// <summary>A host name or an address, without scheme and port.</summary>
    public static ConfigType<string> Host { get; } = new TextType("host", "192.168.10.21", CheckHost) { MaximumLength = 255, Holds = TextContent.Host };

    /// <summary>A TCP port.</summary>
    public static ConfigType<int> Port { get; } = new IntegerType(1, 65535, "502");

    /// <summary>true or false.</summary>
    public static ConfigType<bool> Flag { get; } = new FlagType();

    /// <summary>The schema that an editor uses; the gateway looks past it.</summary>
    public static ConfigType<string> Schema { get; } = new TextType("address of the schema", "./sawedge.schema.json");

    /// <summary>Base address of a server.</summary>
    public static ConfigType<Uri> Url { get; } = new UrlType();

    /// <summary>A length, mm.</summary>
    public static ConfigType<double> Length(string from, string to, (string, string)? usual = null) => new QuantityType<double>(QuantityKind.Length, from, to, value => value) { Usual = usual };

    /// <summary>A rate of movement, mm/min.</summary>
    public static ConfigType<double> Rate(string from, string to, (string, string)? usual = null) => new QuantityType<double>(QuantityKind.Rate, from, to, value => value) { Usual = usual };

    /// <summary>A time.</summary>
    public static ConfigType<TimeSpan> Time(string from, string to, (string, string)? usual = null) => new QuantityType<TimeSpan>(QuantityKind.Time, from, to, TimeSpan.FromSeconds) { Usual = usual };

    /// <summary>A time, s.</summary>
    public static ConfigType<double> Seconds(string from, string to) => new QuantityType<double>(QuantityKind.Time, from, to, value => value);

    private static string? CheckHost(string text)
    {
        // What stands before an @ may be a password: nothing of such a value is shown.
        if (text.Contains('@', StringComparison.Ordinal))
            return "holds an @; write the host alone, and user and password in their own members";
        if (text.Contains("://", StringComparison.Ordinal))
            return $"{Words.Quoted(text)} is an address with a scheme; write the host alone, for example \"192.168.10.21\", and the port in \"port\"";
        return Uri.CheckHostName(text) switch
        {
            UriHostNameType.Unknown when HostAndPort().IsMatch(text) => $"{Words.Quoted(text)} holds a port; write the host alone and the port in \"port\"",
            UriHostNameType.Unknown => $"{Words.Quoted(text)} is no host; write a name or an address, for example \"plc-1\" or \"192.168.10.21\"",
            _ => null,
        };
    }

    [GeneratedRegex(NamePattern, RegexOptions.CultureInvariant)]
    private static partial Regex NameRule();

    [GeneratedRegex("^[^:]+:[0-9]+$")]
    private static partial Regex HostAndPort();
}

/// <summary>Base address of a server: http or https, nothing behind the path, no user in it.</summary>
internal sealed class UrlType : ConfigType<Uri>
{
    private const string Right = "write for example \"http://127.0.0.1:8086\"";

    private readonly TextType _text = new("address of a server", "http://127.0.0.1:8086") { Pattern = "^https?://[^@?#]+$", Holds = TextContent.Address };

    public override bool TryRead(SourceNode node, string path, ReadContext context, [System.Diagnostics.CodeAnalysis.MaybeNullWhen(false)] out Uri value)
    {
        value = null;
        if (!_text.TryRead(node, path, context, out var text))
            return false;

        // A user, a password or a token in the address must not be shown, so such a value is not quoted.
        string? problem = null;
        if (text.Contains('@', StringComparison.Ordinal))
            problem = "holds an @; leave user and password out of the address, they have their own members";
        else if (text.IndexOfAny(['?', '#']) >= 0)
            problem = $"holds a ? or #; write the base address alone, for example \"http://127.0.0.1:8086\"";
        else if (!Uri.TryCreate(text, UriKind.Absolute, out value) || !text.Contains("://", StringComparison.Ordinal))
            problem = $"{Words.Quoted(text)} is no address of a server; {Right}";
        else if (value.Scheme is not ("http" or "https"))
            problem = $"{Words.Quoted(text)} begins with {value.Scheme}://, which is not spoken here; write http:// or https://";
        else if (value.Host.Length == 0)
            problem = $"{Words.Quoted(text)} names no host; {Right}";
        if (problem is null)
            return value is not null;
        value = null;
        context.Findings.Error(path, problem);
        return false;
    }

    public override TypeDescription Describe() => _text.Describe();
}
