using System.Text;
using SawEdge.Core.Notation;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>Paths as findings state them.</summary>
internal static class Paths
{
    /// <summary>A member's path; a name that is no plain word is shown in quotes.</summary>
    public static string Member(string path, string name)
    {
        var shown = name.Length is > 0 and <= 60 && name.All(c => char.IsAsciiLetterOrDigit(c) || c is '_' or '-' or '$') ? name : Words.Quoted(name);
        return path.Length == 0 ? shown : $"{path}.{shown}";
    }

    public static string Item(string path, int index) => $"{path}[{index}]";
}

/// <summary>Pieces of messages.</summary>
internal static class Words
{
    private const int LongestShown = 60;
    private const int LongestCompared = 200;

    /// <summary>A value from the file in single quotes: without control characters, and cut where it is long.</summary>
    public static string Quoted(string value) => $"'{Clipped(value)}'";

    /// <summary>A value without control characters, and cut where it is long.</summary>
    public static string Clipped(string value)
    {
        var shown = new StringBuilder(Math.Min(value.Length, LongestShown) + 3);
        foreach (var rune in value.EnumerateRunes())
        {
            if (shown.Length >= LongestShown)
            {
                shown.Append("...");
                break;
            }

            shown.Append(Rune.IsControl(rune) ? "?" : rune.ToString());
        }

        return shown.ToString();
    }

    /// <summary>"a, b or c".</summary>
    public static string Or(IReadOnlyList<string> words) => words.Count switch
    {
        0 => "",
        1 => words[0],
        _ => $"{string.Join(", ", words.Take(words.Count - 1))} or {words[^1]}",
    };

    /// <summary>"a, b and c".</summary>
    public static string And(IReadOnlyList<string> words) => words.Count switch
    {
        0 => "",
        1 => words[0],
        _ => $"{string.Join(", ", words.Take(words.Count - 1))} and {words[^1]}",
    };

    /// <summary>" did you mean 'x'?" for the nearest name, or the names there are.</summary>
    public static string DidYouMean(string written, IReadOnlyCollection<string> names) =>
        Nearest(written, names) is { } nearest ? $"did you mean '{nearest}'?" : $"known here: {string.Join(", ", names)}";

    /// <summary>The name that was probably meant, or null where none is near.</summary>
    public static string? Nearest(string written, IEnumerable<string> names)
    {
        if (written.Length > LongestCompared)
            return null;
        var best = names
            .Select(name => (Name: name, Distance: EditDistance.Between(written.ToUpperInvariant(), name.ToUpperInvariant())))
            .OrderBy(candidate => candidate.Distance)
            .FirstOrDefault();
        return best.Name is not null && best.Distance <= Math.Max(1, Math.Min(written.Length, best.Name.Length) / 3) ? best.Name : null;
    }
}
