namespace SawEdge.Gateway.Commands.Plots;

/// <summary>Characters in rows and columns; what lies outside is left out.</summary>
internal sealed class TextCanvas
{
    private readonly char[][] _rows;

    /// <summary>An empty canvas.</summary>
    public TextCanvas(int width, int height) => _rows = [.. Enumerable.Range(0, height).Select(_ => Enumerable.Repeat(' ', width).ToArray())];

    /// <summary>Puts a character.</summary>
    /// <param name="x">Column, from the left.</param>
    /// <param name="y">Row, from the top.</param>
    /// <param name="mark">The character.</param>
    public void Put(int x, int y, char mark)
    {
        if (y >= 0 && y < _rows.Length && x >= 0 && x < _rows[y].Length)
            _rows[y][x] = mark;
    }

    /// <summary>A row as text, without blanks at its end.</summary>
    public string Row(int y) => new string(_rows[y]).TrimEnd();
}

/// <summary>Marks on an axis.</summary>
internal static class Axis
{
    /// <summary>A step of 1, 2 or 5 times a power of ten, so that at most so many fit under a value.</summary>
    public static double Step(double most, int marks)
    {
        var rough = most / marks;
        var power = Math.Pow(10, Math.Floor(Math.Log10(rough)));
        return (rough / power) switch { <= 1 => 1, <= 2 => 2, <= 5 => 5, _ => 10 } * power;
    }

    /// <summary>A number as short as its step allows.</summary>
    public static string Number(double value, double step)
    {
        var decimals = Math.Clamp(-(int)Math.Floor(Math.Log10(step) + 1e-9), 0, 6);
        return value.ToString("F" + decimals.ToString(System.Globalization.CultureInfo.InvariantCulture), System.Globalization.CultureInfo.InvariantCulture);
    }
}
