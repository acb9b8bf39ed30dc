using System.Globalization;
using System.Reflection;
using System.Text.RegularExpressions;
using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;
using SawEdge.Gateway.Tests.Configuration;

namespace SawEdge.Gateway.Tests.Deploy;

/// <summary>What people read: that links lead somewhere, and that nothing of the program is left out of it.</summary>
public sealed partial class DocumentationTests
{
    private const BindingFlags Statics = BindingFlags.Static | BindingFlags.Public | BindingFlags.NonPublic;

    public static TheoryData<string> Pages =>
    [
        "README.md", "DEVELOPERS.md", "dashboards/README.md",
        .. Directory.EnumerateFiles(Path.Combine(SchemaTests.Root, "deploy", "docs"), "*.md").Select(file => $"deploy/docs/{Path.GetFileName(file)}").Order(StringComparer.Ordinal),
    ];

    [Theory]
    [MemberData(nameof(Pages))]
    public void Links_OfAPage_LeadToFilesAndHeadingsThatAreThere(string page)
    {
        var file = Path.Combine(SchemaTests.Root, page);
        var wrong = new List<string>();
        foreach (var target in Targets(file))
        {
            var (path, anchor) = target.Split('#', 2) is [var before, var after] ? (before, after) : (target, null);
            var meant = path.Length == 0 ? file : Path.GetFullPath(path, Path.GetDirectoryName(file)!);
            if (!Path.Exists(meant) || (anchor is not null && !Anchors(meant).Contains(anchor)))
                wrong.Add(target);
        }

        Assert.Empty(wrong);
    }

    /// <summary>From the README a reader gets to every page.</summary>
    [Fact]
    public void Pages_AllOfThem_AreReachedFromTheReadme()
    {
        var reached = new HashSet<string>(StringComparer.Ordinal);
        var open = new Stack<string>([Path.Combine(SchemaTests.Root, "README.md")]);
        while (open.TryPop(out var file))
        {
            if (!reached.Add(file) || !file.EndsWith(".md", StringComparison.Ordinal))
                continue;
            foreach (var target in Targets(file).Select(target => target.Split('#')[0]).Where(path => path.Length > 0))
                open.Push(Path.GetFullPath(target, Path.GetDirectoryName(file)!));
        }

        Assert.DoesNotContain(Directory.EnumerateFiles(Path.Combine(SchemaTests.Root, "deploy", "docs"), "*.md"), file => !reached.Contains(file));
    }

    [Fact]
    public void Alarms_EachRuleOfTheProgram_HasItsRowWithItsSeverity()
    {
        var rows = File.ReadAllLines(DeployFolder.File("docs", "alarms.md")).Select(line => line.Split('|', StringSplitOptions.TrimEntries)).Where(cells => cells.Length == 7 && cells[1].StartsWith('`')).Select(cells => $"{cells[1].Trim('`')}: {cells[2]}");
        Assert.Equal(DefaultRules.All.Select(rule => $"{rule.Name}: {rule.Severity.ToString().ToLowerInvariant()}").Order(StringComparer.Ordinal), rows.Order(StringComparer.Ordinal));
    }

    [Fact]
    public void Alarms_BeforeTheFirstRule_SayWhatToDoBeforeReachingForTheBlade()
    {
        var text = File.ReadAllText(DeployFolder.File("docs", "alarms.md"));
        Assert.InRange(text.IndexOf("lock out and tag out", StringComparison.Ordinal), 0, text.IndexOf("`blade_gone`", StringComparison.Ordinal));
        Assert.Contains("Local codes", text, StringComparison.Ordinal);
    }

    /// <summary>Events that troubleshooting names are events that the program logs.</summary>
    [Fact]
    public void Troubleshooting_EachEventThatItNames_IsLogged()
    {
        var logged = typeof(SawEdge.Gateway.Hosting.GatewayClocks).Assembly.GetTypes()
            .SelectMany(type => type.GetMethods(Statics))
            .SelectMany(method => method.GetCustomAttributes(typeof(LoggerMessageAttribute), false).Cast<LoggerMessageAttribute>())
            .Select(attribute => attribute.EventId).ToList();

        // A number is one event, or nobody could look it up.
        Assert.Equal(logged.Count, logged.Distinct().Count());
        var named = Event().Matches(File.ReadAllText(DeployFolder.File("docs", "troubleshooting.md")) + File.ReadAllText(DeployFolder.File("docs", "alarms.md"))).Select(match => int.Parse(match.Groups[1].Value, CultureInfo.InvariantCulture)).ToList();
        Assert.True(named.Count > 30);
        Assert.DoesNotContain(named, number => !logged.Contains(number));
    }

    [Fact]
    public void Commands_EachOfTheProgram_IsDescribed()
    {
        var text = File.ReadAllText(DeployFolder.File("docs", "commands.md"));
        var names = typeof(SawEdge.Gateway.Commands.ExitCodes).Assembly.GetTypes()
            .Where(type => type.Name.EndsWith("Command", StringComparison.Ordinal) && type.GetMethods(Statics).Any(method => method.Name == "Create")).Select(type => type.Name[..^"Command".Length].ToLowerInvariant()).ToList();
        Assert.Contains("run", names);
        Assert.DoesNotContain(names, name => !Regex.IsMatch(text, $@"^\|.*[` ]{name}\b", RegexOptions.Multiline));
    }

    private static IEnumerable<string> Targets(string file) =>
        Link().Matches(Plain(File.ReadAllText(file))).Select(match => match.Groups[1].Value).Where(target => !target.Contains("://", StringComparison.Ordinal) && !target.StartsWith("mailto:", StringComparison.Ordinal));

    // As GitHub makes them: small letters, blanks to hyphens, whatever is no letter, digit, hyphen or underscore left out.
    private static HashSet<string> Anchors(string file) =>
        [.. File.ReadAllLines(file).Where(line => Heading().IsMatch(line)).Select(line => string.Concat(line.TrimStart('#').Trim().ToLowerInvariant().Replace(' ', '-').Where(letter => char.IsLetterOrDigit(letter) || letter is '-' or '_')))];

    // Code is no link.
    private static string Plain(string text) => Code().Replace(string.Join('\n', text.Split('\n').Where(line => !line.StartsWith("    ", StringComparison.Ordinal))), "code");

    [GeneratedRegex(@"\]\(([^)\s]+)\)")]
    private static partial Regex Link();

    [GeneratedRegex("`[^`\n]*`")]
    private static partial Regex Code();

    [GeneratedRegex("^#{1,6} ")]
    private static partial Regex Heading();

    [GeneratedRegex(@"\[(\d{4})\]")]
    private static partial Regex Event();
}
