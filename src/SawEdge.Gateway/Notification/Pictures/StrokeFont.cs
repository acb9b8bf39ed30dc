namespace SawEdge.Gateway.Notification.Pictures;

/// <summary>
/// Letters made of strokes: the digits and what axes are named with. A gateway has no fonts. Each stroke is a row of points, each of two digits:
/// across (0 to 4, for m and W to 6) and down (0 the top of a digit, 2 that of a small letter, 6 the foot, 8 below).
/// </summary>
internal static class StrokeFont
{
    private const int Height = 6;

    private static readonly Dictionary<char, (int Width, string Strokes)> Letters = new()
    {
        ['0'] = (4, "10 30 41 45 36 16 05 01 10"),
        ['1'] = (4, "12 20 26/16 36"),
        ['2'] = (4, "01 10 30 41 42 06 46"),
        ['3'] = (4, "01 10 30 41 42 33 44 45 36 16 05/23 33"),
        ['4'] = (4, "36 30 04 44"),
        ['5'] = (4, "40 10 03 12 32 43 45 36 16 05"),
        ['6'] = (4, "40 20 02 05 16 36 45 44 33 13 04"),
        ['7'] = (4, "00 40 41 16"),
        ['8'] = (4, "10 30 41 42 33 13 02 01 10/13 04 05 16 36 45 44 33"),
        ['9'] = (4, "42 33 13 02 01 10 30 41 44 26 06"),
        ['.'] = (0, "06"),
        [','] = (1, "15 16 07"),
        ['%'] = (5, "50 06/00 10 11 01 00/45 55 56 46 45"),
        [' '] = (1, ""),
        ['W'] = (6, "00 16 32 56 60"),
        ['a'] = (3, "02 22 33 36 16 05 14 34"),
        ['c'] = (3, "32 12 03 05 16 36"),
        ['d'] = (3, "30 36 16 05 03 12 32"),
        ['e'] = (3, "04 34 33 22 12 03 05 16 36"),
        ['f'] = (2, "20 11 16/02 22"),
        ['h'] = (3, "00 06/03 12 22 33 36"),
        ['i'] = (0, "02 06/00"),
        ['k'] = (3, "00 06/32 04 36"),
        ['l'] = (1, "00 05 16"),
        ['m'] = (6, "02 06/03 12 22 33 36/33 42 52 63 66"),
        ['n'] = (3, "02 06/03 12 22 33 36"),
        ['o'] = (3, "12 22 33 35 26 16 05 03 12"),
        ['p'] = (3, "02 08/03 12 22 33 35 26 16 05"),
        ['r'] = (2, "02 06/03 12 22"),
        ['s'] = (3, "32 12 03 14 24 35 26 06"),
        ['t'] = (2, "10 15 26/02 22"),
        ['u'] = (3, "02 05 16 26 35/32 36"),
        ['x'] = (3, "02 36/32 06"),
    };

    /// <summary>Whether there is a letter for each character.</summary>
    public static bool Has(string text) => text.All(Letters.ContainsKey);

    /// <summary>Width of a text, pixels.</summary>
    /// <param name="text">The text.</param>
    /// <param name="height">Height of a digit, pixels.</param>
    public static double Width(string text, double height) => text.Sum(c => Letters[c].Width + 2) * height / Height - (2 * height / Height);

    /// <summary>Draws a text.</summary>
    /// <param name="canvas">Where.</param>
    /// <param name="text">The text.</param>
    /// <param name="x">Its left end, pixels.</param>
    /// <param name="y">Its foot, pixels.</param>
    /// <param name="height">Height of a digit, pixels.</param>
    /// <param name="colour">The colour.</param>
    public static void Draw(Canvas canvas, string text, double x, double y, double height, Colour colour)
    {
        var unit = height / Height;
        foreach (var c in text)
        {
            var (width, strokes) = Letters[c];
            foreach (var stroke in strokes.Split('/', StringSplitOptions.RemoveEmptyEntries))
            {
                var left = x;
                canvas.Stroke([.. stroke.Split(' ').Select(point => (left + (unit * (point[0] - '0')), y + (unit * (point[1] - '0' - Height))))], height / 7, colour);
            }

            x += unit * (width + 2);
        }
    }
}
