using System.Globalization;
using SawEdge.Core.Load;
using SawEdge.Core.Notation;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Notification.Messages;

namespace SawEdge.Gateway.Notification.Pictures;

/// <summary>One cut as a small picture: depth to the right, load upward, with what was expected and the band of normal cuts. Drawn at twice the size at which phones show it.</summary>
internal static class LoadPicture
{
    private const int Width = 960;
    private const int Height = 540;
    private const int Left = 96;
    private const int Right = Width - 28;
    private const int Top = 76;
    private const int Foot = Height - 92;
    private const double Letters = 26;

    private static readonly Colour Ground = new(255, 255, 255);
    private static readonly Colour Ink = new(60, 64, 67);
    private static readonly Colour Grid = new(226, 229, 233);
    private static readonly Colour Band = new(197, 219, 242);

    // Told apart by people who see few colours as well: dark orange, thick; blue, dashed.
    private static readonly Colour Measured = new(196, 72, 0);
    private static readonly Colour Expected = new(21, 86, 160);

    /// <summary>What the lines are, for the text beside the picture.</summary>
    public const string Legend = "Thick line: this cut. Dashed: expected. Band: 95 of 100 normal cuts.";

    /// <summary>Draws a cut; null where no bin says anything.</summary>
    /// <param name="profile">The cut.</param>
    /// <param name="whole">Its depth, mm, or where the bins are shares of time its time, s; NaN: not known, shown as per cent.</param>
    /// <param name="units">The units to draw in.</param>
    public static Picture? Draw(ResidualProfile profile, double whole, DisplayUnits units)
    {
        var (loadFactor, loadUnit) = units == DisplayUnits.Inch ? (1 / QuantityKind.Power.Unit("hp")!.Factor, "hp") : (1.0, "kW");
        var bins = profile.LoadKw.Count;
        var most = profile.LoadKw.Concat(profile.ExpectedKw).Concat(profile.HighKw).Where(float.IsFinite).DefaultIfEmpty(0).Max() * loadFactor;
        if (!(most > 0) || !profile.LoadKw.Any(float.IsFinite))
            return null;

        var (extent, extentUnit) = (profile.ByDepth, units) switch
        {
            _ when !(whole > 0) || !double.IsFinite(whole) => (100.0, "%"),
            (false, _) => (whole, "s"),
            (_, DisplayUnits.Inch) => (whole / Lengths.MmPerInch, "in"),
            _ => (whole, "mm"),
        };
        var step = Step(most, 4);
        var scale = step * Math.Ceiling(most * 1.02 / step);
        var canvas = new Canvas(Width, Height, Ground);
        double X(double bin) => Left + ((Right - Left) * bin / bins);
        double Y(double kw) => Foot - ((Foot - Top) * Math.Clamp(kw * loadFactor / scale, 0, 1));

        FillBand(canvas, profile, X, Y);
        Axes(canvas, step, scale, extent);
        StrokeFont.Draw(canvas, $"load, {loadUnit}", 12, Top - 36, Letters, Ink);
        var below = $"{(profile.ByDepth ? "depth" : "time")}, {extentUnit}";
        StrokeFont.Draw(canvas, below, Right - StrokeFont.Width(below, Letters), Height - 12, Letters, Ink);
        foreach (var run in Runs(profile.ExpectedKw))
            canvas.Stroke([.. run.Select(bin => (X(bin + 0.5), Y(profile.ExpectedKw[bin])))], 5, Expected, 16);
        foreach (var run in Runs(profile.LoadKw))
            canvas.Stroke([.. run.Select(bin => (X(bin + 0.5), Y(profile.LoadKw[bin])))], 8, Measured);
        return new Picture(canvas.ToPng(), Words(profile, units, extent, extentUnit));
    }

    // Columns between the middles of bins that are both known; the band ends where it is not known.
    private static void FillBand(Canvas canvas, ResidualProfile profile, Func<double, double> x, Func<double, double> y)
    {
        for (var bin = 0; bin + 1 < profile.LowKw.Count; bin++)
        {
            var (low, high, nextLow, nextHigh) = (profile.LowKw[bin], profile.HighKw[bin], profile.LowKw[bin + 1], profile.HighKw[bin + 1]);
            if (!float.IsFinite(low + high + nextLow + nextHigh))
                continue;
            var (from, to) = (x(bin + 0.5), x(bin + 1.5));
            for (var column = (int)Math.Ceiling(from - 0.5); column + 0.5 < to; column++)
            {
                var share = (column + 0.5 - from) / (to - from);
                canvas.Column(column, y(high + (share * (nextHigh - high))), y(low + (share * (nextLow - low))), Band);
            }
        }
    }

    private static void Axes(Canvas canvas, double step, double scale, double extent)
    {
        for (var value = 0.0; value <= scale * 1.0001; value += step)
        {
            var y = Foot - ((Foot - Top) * value / scale);
            canvas.Stroke([(Left, y), (Right, y)], value == 0 ? 3 : 2, value == 0 ? Ink : Grid);
            var number = Number(value, step);
            StrokeFont.Draw(canvas, number, Left - 14 - StrokeFont.Width(number, Letters), y + (Letters / 2), Letters, Ink);
        }

        var across = Step(extent, 5);
        for (var value = 0.0; value <= extent * 1.0001; value += across)
        {
            var x = Left + ((Right - Left) * value / extent);
            canvas.Stroke([(x, Foot), (x, Foot + 9)], 3, Ink);
            var number = Number(value, across);
            var width = StrokeFont.Width(number, Letters);
            StrokeFont.Draw(canvas, number, Math.Min(x - (width / 2), Width - 4 - width), Foot + 18 + Letters, Letters, Ink);
        }
    }

    private static IEnumerable<List<int>> Runs(IReadOnlyList<float> values)
    {
        var run = new List<int>();
        for (var i = 0; i <= values.Count; i++)
        {
            if (i < values.Count && float.IsFinite(values[i]))
            {
                run.Add(i);
            }
            else if (run.Count > 0)
            {
                yield return run;
                run = [];
            }
        }
    }

    // 1, 2 or 5 times a power of ten, so that there are at most so many steps.
    private static double Step(double most, int steps)
    {
        var raw = most / steps;
        var power = Math.Pow(10, Math.Floor(Math.Log10(raw)));
        return power * (raw <= power ? 1 : raw <= 2 * power ? 2 : raw <= 5 * power ? 5 : 10);
    }

    private static string Number(double value, double step) =>
        value.ToString("F" + Math.Clamp(-(int)Math.Floor(Math.Log10(step) + 1e-9), 0, 6).ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);

    private static string Words(ResidualProfile profile, DisplayUnits units, double extent, string extentUnit)
    {
        var highest = Enumerable.Range(0, profile.LoadKw.Count).Where(i => float.IsFinite(profile.LoadKw[i])).MaxBy(i => profile.LoadKw[i]);
        var at = string.Create(CultureInfo.InvariantCulture, $"{extent * (highest + 0.5) / profile.LoadKw.Count:0.#} {extentUnit}");
        var usual = profile.ExpectedKw[highest];
        var expected = float.IsFinite(usual) ? $", where {DisplayText.Text(units, usual, "kW")} was expected" : "";
        return $"Motor load along the {(profile.ByDepth ? "depth" : "time")} of the cut: at most {DisplayText.Text(units, profile.LoadKw[highest], "kW")} at {at}{expected}.";
    }
}
