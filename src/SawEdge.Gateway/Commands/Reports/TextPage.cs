namespace SawEdge.Gateway.Commands.Reports;

/// <summary>Plain text for people in lines of at most <see cref="Width"/> characters.</summary>
internal sealed class TextPage(TextWriter output)
{
    /// <summary>The longest line, characters.</summary>
    public const int Width = 96;

    private const int ValuesBegin = 38;

    /// <summary>A heading with an empty line before it.</summary>
    public void Heading(string words)
    {
        output.WriteLine();
        output.WriteLine(words);
    }

    /// <summary>A line as it is.</summary>
    public void Line(string line) => output.WriteLine(line.TrimEnd());

    /// <summary>A name and its value; nothing where the value is not known.</summary>
    public void Pair(string name, string? value)
    {
        if (!string.IsNullOrEmpty(value))
            Wrapped($"  {name} ".PadRight(ValuesBegin), value);
    }

    /// <summary>Words after a beginning, broken before the last column; what follows stands under the first word.</summary>
    public void Wrapped(string begin, string words)
    {
        var line = begin;
        foreach (var word in words.Split(' '))
        {
            if (line.Length > begin.Length && line.Length + word.Length > Width)
            {
                output.WriteLine(line.TrimEnd());
                line = new string(' ', begin.Length);
            }

            line += word + " ";
        }

        output.WriteLine(line.TrimEnd());
    }
}
