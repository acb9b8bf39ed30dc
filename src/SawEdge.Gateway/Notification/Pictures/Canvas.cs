namespace SawEdge.Gateway.Notification.Pictures;

/// <summary>A colour.</summary>
/// <param name="Red">Red, 0 to 255.</param>
/// <param name="Green">Green, 0 to 255.</param>
/// <param name="Blue">Blue, 0 to 255.</param>
internal readonly record struct Colour(byte Red, byte Green, byte Blue);

/// <summary>
/// A small raster with smooth lines. A drawing library would bring some ten megabytes of native code for each platform, and the fonts of
/// the machine, of which a gateway has none.
/// </summary>
internal sealed class Canvas
{
    private readonly byte[] _rgb;
    private readonly float[] _cover;

    /// <summary>A raster of one colour.</summary>
    public Canvas(int width, int height, Colour ground)
    {
        Width = width;
        Height = height;
        _rgb = new byte[3 * width * height];
        _cover = new float[width * height];
        for (var i = 0; i < width * height; i++)
            (_rgb[3 * i], _rgb[(3 * i) + 1], _rgb[(3 * i) + 2]) = (ground.Red, ground.Green, ground.Blue);
    }

    /// <summary>Width, pixels.</summary>
    public int Width { get; }

    /// <summary>Height, pixels.</summary>
    public int Height { get; }

    /// <summary>The picture as a PNG file.</summary>
    public byte[] ToPng() => Png.Write(Width, Height, _rgb);

    /// <summary>Colour of a pixel.</summary>
    public Colour At(int x, int y)
    {
        var i = 3 * ((y * Width) + x);
        return new Colour(_rgb[i], _rgb[i + 1], _rgb[i + 2]);
    }

    /// <summary>Draws lines from point to point with round ends and joints, as one stroke.</summary>
    /// <param name="points">The points, pixels from the upper left.</param>
    /// <param name="thickness">Thickness, pixels.</param>
    /// <param name="colour">The colour.</param>
    /// <param name="dash">Length of dashes and gaps, pixels; 0: none.</param>
    public void Stroke(IReadOnlyList<(double X, double Y)> points, double thickness, Colour colour, double dash = 0)
    {
        var (left, top, right, bottom) = (Width, Height, -1, -1);
        if (points.Count == 1)
            Segment(points[0], points[0]);
        var walked = 0.0;
        for (var i = 1; i < points.Count; i++)
        {
            var (from, to) = (points[i - 1], points[i]);
            var length = Math.Sqrt(Square(to.X - from.X) + Square(to.Y - from.Y));
            if (dash <= 0 || length == 0)
            {
                Segment(from, to);
                continue;
            }

            for (var done = 0.0; done < length;)
            {
                var phase = (walked + done) % (2 * dash);
                var step = Math.Min(length - done, Math.Max(phase < dash ? dash - phase : (2 * dash) - phase, 1e-6));
                if (phase < dash)
                    Segment(Between(from, to, done / length), Between(from, to, (done + step) / length));
                done += step;
            }

            walked += length;
        }

        for (var y = top; y <= bottom; y++)
        {
            for (var x = left; x <= right; x++)
            {
                Blend(x, y, colour, _cover[(y * Width) + x]);
                _cover[(y * Width) + x] = 0;
            }
        }

        // A pixel is covered as far as its middle lies within half the thickness of the line.
        void Segment((double X, double Y) a, (double X, double Y) b)
        {
            var reach = (thickness / 2) + 1;
            var (x0, x1) = (Math.Max(0, (int)(Math.Min(a.X, b.X) - reach)), Math.Min(Width - 1, (int)(Math.Max(a.X, b.X) + reach)));
            var (y0, y1) = (Math.Max(0, (int)(Math.Min(a.Y, b.Y) - reach)), Math.Min(Height - 1, (int)(Math.Max(a.Y, b.Y) + reach)));
            (left, top, right, bottom) = (Math.Min(left, x0), Math.Min(top, y0), Math.Max(right, x1), Math.Max(bottom, y1));
            var (dx, dy) = (b.X - a.X, b.Y - a.Y);
            var squared = Square(dx) + Square(dy);
            for (var y = y0; y <= y1; y++)
            {
                for (var x = x0; x <= x1; x++)
                {
                    var (px, py) = (x + 0.5 - a.X, y + 0.5 - a.Y);
                    var along = squared == 0 ? 0 : Math.Clamp(((px * dx) + (py * dy)) / squared, 0, 1);
                    var distance = Math.Sqrt(Square(px - (along * dx)) + Square(py - (along * dy)));
                    ref var cover = ref _cover[(y * Width) + x];
                    cover = Math.Max(cover, (float)Math.Clamp((thickness / 2) + 0.5 - distance, 0, 1));
                }
            }
        }
    }

    /// <summary>Fills one column of pixels.</summary>
    /// <param name="x">The column.</param>
    /// <param name="from">Its upper end, pixels.</param>
    /// <param name="to">Its lower end, pixels.</param>
    /// <param name="colour">The colour.</param>
    public void Column(int x, double from, double to, Colour colour)
    {
        for (var y = Math.Max(0, (int)Math.Floor(from)); y < Math.Min(Height, Math.Ceiling(to)); y++)
            Blend(x, y, colour, (float)(Math.Min(to, y + 1) - Math.Max(from, y)));
    }

    private static double Square(double value) => value * value;

    private static (double X, double Y) Between((double X, double Y) a, (double X, double Y) b, double share) => (a.X + (share * (b.X - a.X)), a.Y + (share * (b.Y - a.Y)));

    private void Blend(int x, int y, Colour colour, float cover)
    {
        if (cover <= 0)
            return;
        var i = 3 * ((y * Width) + x);
        _rgb[i] = Mix(_rgb[i], colour.Red);
        _rgb[i + 1] = Mix(_rgb[i + 1], colour.Green);
        _rgb[i + 2] = Mix(_rgb[i + 2], colour.Blue);

        byte Mix(byte below, byte above) => (byte)Math.Round(below + (cover * (above - below)));
    }
}
