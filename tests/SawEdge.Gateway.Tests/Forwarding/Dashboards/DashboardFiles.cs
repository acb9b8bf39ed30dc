using System.Text.Json;
using System.Text.RegularExpressions;
using SawEdge.Gateway.Tests.Configuration;

namespace SawEdge.Gateway.Tests.Forwarding.Dashboards;

/// <summary>A query of a definition in dashboards/.</summary>
/// <param name="Board">The dashboard.</param>
/// <param name="Panel">Title of the panel; for the query of a variable its name after a dollar sign.</param>
/// <param name="Ref">Letter of the query in its panel; empty for a variable.</param>
/// <param name="Text">The query as it stands in the file.</param>
/// <param name="Multiple">Variables of the dashboard of which several values can be chosen.</param>
internal sealed record DashboardQuery(string Board, string Panel, string Ref, string Text, IReadOnlySet<string> Multiple)
{
    /// <summary>How a check names it.</summary>
    public string Key => $"{Board}/{Panel}{(Ref is "" or "A" ? "" : $"/{Ref}")}";
}

/// <summary>The definitions in dashboards/, and their queries as the dashboard server sends them.</summary>
internal static partial class DashboardFiles
{
    /// <summary>The folder.</summary>
    public static string Folder => Path.Combine(SchemaTests.Root, "dashboards");

    /// <summary>The definitions by file name.</summary>
    public static IReadOnlyDictionary<string, JsonElement> All() =>
        Directory.EnumerateFiles(Folder, "*.json").Order(StringComparer.Ordinal).ToDictionary(file => Path.GetFileName(file), file => JsonDocument.Parse(File.ReadAllText(file)).RootElement);

    /// <summary>Every query of every definition.</summary>
    /// <remarks>Looks for the member wherever it stands, so that a kind of query that nobody thought of is not passed over.</remarks>
    public static List<DashboardQuery> Queries()
    {
        var queries = new List<DashboardQuery>();
        foreach (var board in All().Values)
        {
            var name = board.GetProperty("uid").GetString()!;
            var variables = board.GetProperty("templating").GetProperty("list").EnumerateArray().ToList();
            var multiple = variables.Where(variable => variable.TryGetProperty("multi", out var multi) && multi.GetBoolean()).Select(variable => variable.GetProperty("name").GetString()!).ToHashSet();
            var found = new List<DashboardQuery>();
            foreach (var variable in variables.Where(variable => variable.GetProperty("type").GetString() == "query"))
                found.Add(new DashboardQuery(name, "$" + variable.GetProperty("name").GetString(), "", variable.GetProperty("query").GetString()!, multiple));
            foreach (var panel in board.GetProperty("panels").EnumerateArray())
            {
                foreach (var target in panel.GetProperty("targets").EnumerateArray())
                    found.Add(new DashboardQuery(name, panel.GetProperty("title").GetString()!, target.GetProperty("refId").GetString()!, target.GetProperty("query").GetString()!, multiple));
            }

            Assert.Equal(found.Count, Occurrences(board) - variables.Count(variable => variable.GetProperty("type").GetString() != "query"));
            queries.AddRange(found);
        }

        return queries;
    }

    /// <summary>A query as the server of the dashboards sends it: the time that was chosen and the variables filled in.</summary>
    public static string Fill(DashboardQuery query, DateTimeOffset from, DateTimeOffset to, IReadOnlyDictionary<string, string[]> values)
    {
        var text = query.Text.Replace("$timeFilter", $"time >= {from.ToUnixTimeMilliseconds()}ms AND time <= {to.ToUnixTimeMilliseconds()}ms", StringComparison.Ordinal);
        text = Plain().Replace(text, match => Assert.Single(values[match.Groups[1].Value]));
        text = Quoted().Replace(text, match => $"'{Assert.Single(values[match.Groups[1].Value]).Replace("\\", "\\\\", StringComparison.Ordinal).Replace("'", "\\'", StringComparison.Ordinal)}'");
        text = Pattern().Replace(text, match =>
        {
            var name = match.Groups[1].Value;
            var chosen = values[name].Select(value => Special().Replace(value, "\\$0")).ToArray();
            if (!query.Multiple.Contains(name))
                return chosen[0];
            return chosen.Length == 1 ? chosen[0] : $"({string.Join('|', chosen)})";
        });
        Assert.DoesNotContain("$", text.Replace("$/", "/", StringComparison.Ordinal), StringComparison.Ordinal);
        return text;
    }

    private static int Occurrences(JsonElement element) => element.ValueKind switch
    {
        JsonValueKind.Object => element.EnumerateObject().Sum(member => (member.Name == "query" && member.Value.ValueKind == JsonValueKind.String ? 1 : 0) + Occurrences(member.Value)),
        JsonValueKind.Array => element.EnumerateArray().Sum(Occurrences),
        _ => 0,
    };

    [GeneratedRegex(@"\$(per)\b")]
    private static partial Regex Plain();

    [GeneratedRegex(@"\$\{(\w+):singlequote\}")]
    private static partial Regex Quoted();

    [GeneratedRegex(@"\$\{(\w+):regex\}")]
    private static partial Regex Pattern();

    // What the server of the dashboards escapes where a value goes into a pattern, and the slash that ends one.
    [GeneratedRegex(@"[\\^$*+?.()|\[\]{}/]")]
    private static partial Regex Special();
}
