using System.Text;
using Spectre.Console;

namespace SawEdge.Gateway.Commands.Commissioning;

/// <summary>Where a watched saw is shown.</summary>
internal interface IWatchDisplay : IDisposable
{
    /// <summary>How often it is shown.</summary>
    TimeSpan Every { get; }

    /// <summary>Shows it.</summary>
    void Show(WatchMoment moment, IReadOnlyList<SaidTrouble> troubles);

    /// <summary>Whether the person asked for the end.</summary>
    bool IsEndAsked();
}

/// <summary>A block of lines each second, for a pipe or a file.</summary>
internal sealed class PlainDisplay(TextWriter output, Func<WatchMoment, IReadOnlyList<SaidTrouble>, IEnumerable<string>> draw) : IWatchDisplay
{
    /// <inheritdoc/>
    public TimeSpan Every => TimeSpan.FromSeconds(1);

    /// <inheritdoc/>
    public void Show(WatchMoment moment, IReadOnlyList<SaidTrouble> troubles)
    {
        foreach (var line in draw(moment, troubles))
            output.WriteLine(line);
        output.Flush();
    }

    /// <inheritdoc/>
    public bool IsEndAsked() => false;

    /// <inheritdoc/>
    public void Dispose() => output.Flush();
}

/// <summary>
/// The picture in a terminal, drawn over itself a few times a second: each time in one piece and without clearing before, so that it does
/// not flicker. It takes the terminal's second screen, and leaves its last picture on the first one. q ends it.
/// </summary>
internal sealed class TerminalDisplay : IWatchDisplay
{
    private const string SecondScreen = "\u001b[?1049h\u001b[?25l";
    private const string FirstScreen = "\u001b[?25h\u001b[?1049l";

    private readonly IAnsiConsole _console;
    private readonly Func<int, WatchText> _textFor;
    private readonly Func<ConsoleKey?> _key;
    private IReadOnlyList<TextLine> _lines = [];

    /// <summary>Takes the terminal.</summary>
    /// <param name="console">The terminal.</param>
    /// <param name="textFor">Draws in so many cells.</param>
    /// <param name="key">The next key that was pressed, or null.</param>
    public TerminalDisplay(IAnsiConsole console, Func<int, WatchText> textFor, Func<ConsoleKey?> key)
    {
        _console = console;
        _textFor = textFor;
        _key = key;
        _console.Write(new ControlCode(SecondScreen));
    }

    /// <inheritdoc/>
    public TimeSpan Every => TimeSpan.FromMilliseconds(250);

    /// <inheritdoc/>
    public void Show(WatchMoment moment, IReadOnlyList<SaidTrouble> troubles)
    {
        var width = _console.Profile.Width;
        _lines = _textFor(width).Draw(moment, troubles);
        _console.Write(new ControlCode(Picture(_lines, width, _console.Profile.Height)));
    }

    /// <inheritdoc/>
    public bool IsEndAsked()
    {
        while (_key() is { } key)
        {
            if (key is ConsoleKey.Q or ConsoleKey.Escape)
                return true;
        }

        return false;
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        var last = string.Concat(_lines.Select(line => Styled(line, int.MaxValue) + Environment.NewLine));
        _console.Write(new ControlCode(FirstScreen + last));
    }

    /// <summary>One picture as a terminal takes it: each line over the old one, the rest of the screen cleared.</summary>
    /// <param name="lines">The lines.</param>
    /// <param name="width">Cells of the terminal's line.</param>
    /// <param name="height">Lines of the terminal.</param>
    internal static string Picture(IReadOnlyList<TextLine> lines, int width, int height)
    {
        var room = Math.Max(2, height - 1);
        var shown = lines;
        if (lines.Count > room)
            shown = [.. lines.Take(room - 1), new TextLine($"({lines.Count - room + 1} more lines: make the window taller)", LineTone.Dim)];
        var picture = new StringBuilder("\u001b[H");
        foreach (var line in shown)
            picture.Append(Styled(line, width)).Append("\u001b[K\r\n");
        return picture.Append(Styled(new TextLine("q or Ctrl+C ends it; it only reads.", LineTone.Dim), width)).Append("\u001b[K\u001b[J").ToString();
    }

    private static string Styled(TextLine line, int width)
    {
        var text = TextCells.Cut(line.Text, width);
        return line.Tone switch
        {
            LineTone.Heading => $"\u001b[1m{text}\u001b[0m",
            LineTone.Dim => $"\u001b[2m{text}\u001b[0m",
            LineTone.Bad => $"\u001b[31m{text}\u001b[0m",
            _ => text,
        };
    }
}
