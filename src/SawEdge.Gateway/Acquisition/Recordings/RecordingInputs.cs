using Microsoft.Extensions.FileSystemGlobbing;
using Microsoft.Extensions.FileSystemGlobbing.Abstractions;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>One file to read.</summary>
/// <param name="Path">Its path as it is shown to the user.</param>
/// <param name="Named">Whether the user named this very file; one that a folder or a pattern brought along may be something else.</param>
public sealed record RecordingInput(string Path, bool Named);

/// <summary>Finds the recordings that a person names: files, folders (all .csv and .csv.gz below them), and patterns with * and **.</summary>
public static class RecordingInputs
{
    /// <summary>Finds the files, each once.</summary>
    /// <param name="inputs">Files, folders and patterns.</param>
    /// <param name="problems">Where to say that a file was named twice.</param>
    /// <exception cref="RecordingException">Nothing was named, or something that was named is not there; all of that at once.</exception>
    public static IReadOnlyList<RecordingInput> Find(IEnumerable<string> inputs, RecordingProblems problems)
    {
        var found = new Dictionary<string, RecordingInput>(StringComparer.Ordinal);
        var mistakes = new List<string>();
        var any = false;
        foreach (var input in inputs)
        {
            any = true;
            try
            {
                foreach (var file in Expand(input, mistakes))
                    Add(found, file, problems);
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException)
            {
                mistakes.Add($"{input}: cannot be read: {e.Message}");
            }
        }

        if (!any)
            mistakes.Add("no recording was named; name files, folders or patterns such as recordings/*.csv.gz.");
        if (mistakes.Count > 0)
            throw new RecordingException(string.Join(Environment.NewLine, mistakes));
        return [.. found.Values];
    }

    private static IEnumerable<RecordingInput> Expand(string input, List<string> mistakes)
    {
        if (File.Exists(input))
            return [new RecordingInput(input, Named: true)];

        var isFolder = Directory.Exists(input);
        if (!isFolder && !input.Contains('*', StringComparison.Ordinal))
        {
            mistakes.Add($"{input}: there is no such file or folder{(input.Contains('?', StringComparison.Ordinal) ? " (patterns use * and **)" : "")}.");
            return [];
        }

        var files = isFolder ? Match(input, ["**/*.csv", "**/*.csv.gz"]) : MatchPattern(input);
        if (files.Count == 0)
            mistakes.Add(isFolder ? $"{input}: the folder holds no file that ends in .csv or .csv.gz." : $"{input}: no file matches this pattern.");
        return files.Select(file => new RecordingInput(file, Named: false));
    }

    // The folders in front of the first '*' are taken as they stand.
    private static List<string> MatchPattern(string pattern)
    {
        var slashed = pattern.Replace(Path.DirectorySeparatorChar, '/');
        var star = slashed.IndexOf('*', StringComparison.Ordinal);
        var cut = slashed.LastIndexOf('/', star);
        var folder = cut < 0 ? "." : cut == 0 ? "/" : slashed[..cut];
        return Directory.Exists(folder) ? Match(folder, [slashed[(cut + 1)..]]) : [];
    }

    private static List<string> Match(string folder, IEnumerable<string> patterns)
    {
        var matcher = new Matcher(StringComparison.Ordinal);
        matcher.AddIncludePatterns(patterns);
        return [.. matcher.Execute(new DirectoryInfoWrapper(new DirectoryInfo(folder))).Files
            .Select(match => folder == "." ? match.Path : Path.Combine(folder, match.Path))
            .Order(StringComparer.Ordinal)];
    }

    private static void Add(Dictionary<string, RecordingInput> found, RecordingInput file, RecordingProblems problems)
    {
        var target = File.ResolveLinkTarget(file.Path, returnFinalTarget: true)?.FullName ?? Path.GetFullPath(file.Path);
        if (found.TryAdd(target, file))
            return;
        if (file.Named)
            found[target] = found[target] with { Named = true };
        problems.Add(file.Path, "", "same file", 0, "this file was named before; it is read once.");
    }
}
