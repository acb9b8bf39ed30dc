using System.Text;

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

    /// <summary>" did you mean 'x'?" for the nearest name, or the names there are.</summary>
    public static string DidYouMean(string written, IReadOnlyCollection<string> names) =>
        Nearest(written, names) is { } nearest ? $"did you mean '{nearest}'?" : $"known here: {string.Join(", ", names)}";

    /// <summary>The name that was probably meant, or null where none is near.</summary>
    public static string? Nearest(string written, IEnumerable<string> names)
    {
        var best = names
            .Select(name => (Name: name, Distance: Distance(written.ToUpperInvariant(), name.ToUpperInvariant())))
            .OrderBy(candidate => candidate.Distance)
            .FirstOrDefault();
        return best.Name is not null && best.Distance <= Math.Max(1, Math.Min(written.Length, best.Name.Length) / 3) ? best.Name : null;
    }

    /// <summary>Edit distance that counts two neighbours changed round as one step (optimal string alignment).</summary>
    private static int Distance(string a, string b)
    {
        if (a.Length > 200)
            return int.MaxValue;
        var d = new int[a.Length + 1, b.Length + 1];
        for (var i = 0; i <= a.Length; i++)
            d[i, 0] = i;
        for (var j = 0; j <= b.Length; j++)
            d[0, j] = j;
        for (var i = 1; i <= a.Length; i++)
        {
            for (var j = 1; j <= b.Length; j++)
            {
                var cost = a[i - 1] == b[j - 1] ? 0 : 1;
                d[i, j] = Math.Min(Math.Min(d[i - 1, j] + 1, d[i, j - 1] + 1), d[i - 1, j - 1] + cost);
                if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                    d[i, j] = Math.Min(d[i, j], d[i - 2, j - 2] + 1);
            }
        }

        return d[a.Length, b.Length];
    }
}
