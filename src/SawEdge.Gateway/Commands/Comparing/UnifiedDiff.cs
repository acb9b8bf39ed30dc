using System.Globalization;
using System.Text;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>The difference of two texts line by line, in the unified form that <c>diff -u</c> writes and <c>patch</c> reads.</summary>
internal static class UnifiedDiff
{
    private const int Context = 3;

    /// <summary>The difference; empty where there is none.</summary>
    /// <param name="before">The text before; null: there is no file.</param>
    /// <param name="after">The text after.</param>
    /// <param name="beforeName">Name of the file before.</param>
    /// <param name="afterName">Name of the file after.</param>
    public static string Of(string? before, string after, string beforeName, string afterName)
    {
        var (old, @new) = (Lines(before ?? ""), Lines(after));
        var steps = Steps(old, @new);
        var text = new StringBuilder();
        for (var at = 0; at < steps.Count;)
        {
            if (steps[at].Kind == ' ')
            {
                at++;
                continue;
            }

            // A piece ends where more lines than two contexts stay as they are.
            var (from, to) = (Math.Max(0, at - Context), at);
            for (var i = at; i < steps.Count && i - to <= 2 * Context; i++)
                to = steps[i].Kind == ' ' ? to : i;
            to = Math.Min(steps.Count - 1, to + Context);
            if (text.Length == 0)
                text.Append(CultureInfo.InvariantCulture, $"--- {(before is null ? "/dev/null" : beforeName)}\n+++ {afterName}\n");
            Piece(text, steps, from, to);
            at = to + 1;
        }

        return text.ToString();
    }

    private static void Piece(StringBuilder text, List<(char Kind, string Line)> steps, int from, int to)
    {
        var (oldBefore, newBefore) = (steps.Take(from).Count(step => step.Kind != '+'), steps.Take(from).Count(step => step.Kind != '-'));
        var piece = steps[from..(to + 1)];
        var (oldCount, newCount) = (piece.Count(step => step.Kind != '+'), piece.Count(step => step.Kind != '-'));
        text.Append(CultureInfo.InvariantCulture, $"@@ -{Range(oldBefore, oldCount)} +{Range(newBefore, newCount)} @@\n");
        foreach (var (kind, line) in piece)
        {
            text.Append(kind).Append(line);
            if (!line.EndsWith('\n'))
                text.Append("\n\\ No newline at end of file\n");
        }
    }

    private static string Range(int before, int count) => string.Create(CultureInfo.InvariantCulture, $"{(count == 0 ? before : before + 1)}{(count == 1 ? "" : $",{count}")}");

    // A longest common subsequence of the lines between what both begin and end with.
    private static List<(char Kind, string Line)> Steps(List<string> old, List<string> @new)
    {
        var begin = old.Zip(@new).TakeWhile(pair => pair.First == pair.Second).Count();
        var end = Enumerable.Reverse(old.Skip(begin)).Zip(Enumerable.Reverse(@new.Skip(begin))).TakeWhile(pair => pair.First == pair.Second).Count();
        var (a, b) = (old[begin..^end], @new[begin..^end]);
        var common = new int[a.Count + 1, b.Count + 1];
        for (var i = a.Count - 1; i >= 0; i--)
        {
            for (var j = b.Count - 1; j >= 0; j--)
                common[i, j] = a[i] == b[j] ? common[i + 1, j + 1] + 1 : Math.Max(common[i + 1, j], common[i, j + 1]);
        }

        var steps = old.Take(begin).Select(line => (' ', line)).ToList();
        for (var (i, j) = (0, 0); i < a.Count || j < b.Count;)
        {
            if (i < a.Count && j < b.Count && a[i] == b[j])
            {
                steps.Add((' ', a[i++]));
                j++;
            }
            else if (i < a.Count && (j == b.Count || common[i + 1, j] >= common[i, j + 1]))
            {
                steps.Add(('-', a[i++]));
            }
            else
            {
                steps.Add(('+', b[j++]));
            }
        }

        steps.AddRange(old.Skip(old.Count - end).Select(line => (' ', line)));
        return steps;
    }

    private static List<string> Lines(string text)
    {
        var lines = new List<string>();
        for (var from = 0; from < text.Length;)
        {
            var end = text.IndexOf('\n', from);
            end = end < 0 ? text.Length : end + 1;
            lines.Add(text[from..end]);
            from = end;
        }

        return lines;
    }
}
