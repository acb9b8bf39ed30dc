using System.Globalization;
using SawEdge.Core.Load;

namespace SawEdge.Gateway.Commands.Plots;

/// <summary>One cut in a terminal: depth downward, load to the right, with what was expected and the band of normal cuts. Pure: numbers in, lines out.</summary>
internal static class DepthPlot
{
    private const int LabelWidth = 8;
    private const int PlotWidth = 72;
    private const int Rows = 24;

    // Standard deviations from which on a stretch is marked.
    private const double MarkedFrom = 3;

    /// <summary>The lines of the plot, at most 96 characters each; none where no bin says anything.</summary>
    /// <param name="profile">The cut.</param>
    /// <param name="depth">The depth, or the time where the bins are shares of it, in the unit it is printed in; NaN: per cent of the cut.</param>
    /// <param name="depthUnit">That unit.</param>
    /// <param name="loadFactor">What 1 kW is in the unit that load is printed in.</param>
    /// <param name="loadUnit">That unit.</param>
    /// <param name="ascii">Whether only plain ASCII may be used.</param>
    public static IReadOnlyList<string> Lines(ResidualProfile profile, double depth, string depthUnit, double loadFactor, string loadUnit, bool ascii)
    {
        var bins = profile.LoadKw.Count;
        var most = Enumerable.Range(0, bins).SelectMany(i => new[] { profile.LoadKw[i], profile.ExpectedKw[i], profile.HighKw[i] }).Where(float.IsFinite).DefaultIfEmpty(0).Max() * loadFactor;
        if (!(most > 0))
            return [];
        var (whole, unit) = double.IsFinite(depth) ? (depth, depthUnit) : (100, "%");
        var step = Axis.Step(most, 6);
        var scale = step * Math.Ceiling(most / step);
        var rows = Math.Min(Rows, bins);
        var canvas = new TextCanvas(PlotWidth + 1, rows);
        var (band, expected, measured) = ascii ? ('.', ':', '#') : ('░', '│', '█');
        int Column(double kw) => (int)Math.Round(Math.Clamp(kw * loadFactor / scale, 0, 1) * PlotWidth);

        var lines = new List<string> { $"{unit,LabelWidth} {band} 95 of 100 normal cuts  {expected} expected  {measured} this cut" };
        for (var row = 0; row < rows; row++)
        {
            var (from, to) = (row * bins / rows, (row + 1) * bins / rows);
            if (Mean(profile.LowKw, from, to) is var low && Mean(profile.HighKw, from, to) is var high && double.IsFinite(low + high))
            {
                for (var x = Column(low); x <= Column(high); x++)
                    canvas.Put(x, row, band);
            }

            if (Mean(profile.ExpectedKw, from, to) is var usual && double.IsFinite(usual))
                canvas.Put(Column(usual), row, expected);
            if (Mean(profile.LoadKw, from, to) is var load && double.IsFinite(load))
                canvas.Put(Column(load), row, measured);
            var label = row % 4 == 0 ? (whole * from / bins).ToString(whole < 20 ? "0.0" : "0", CultureInfo.InvariantCulture) : "";
            lines.Add($"{label,LabelWidth} {(ascii ? '|' : '┤')}{canvas.Row(row)}{Mark(profile.Standardised, from, to, canvas.Row(row).Length)}".TrimEnd());
        }

        lines.Add(Rule(step, scale, ascii));
        lines.Add(Numbers(step, scale, loadUnit));
        return lines;
    }

    private static double Mean(IReadOnlyList<float> values, int from, int to)
    {
        var (sum, count) = (0.0, 0);
        for (var i = from; i < to; i++)
        {
            if (!float.IsFinite(values[i]))
                continue;
            sum += values[i];
            count++;
        }

        return count > 0 ? sum / count : double.NaN;
    }

    private static string Mark(IReadOnlyList<float> standardised, int from, int to, int used)
    {
        var most = standardised.Skip(from).Take(to - from).Where(float.IsFinite).OrderByDescending(value => Math.Abs(value)).FirstOrDefault();
        return Math.Abs(most) < MarkedFrom ? "" : new string(' ', PlotWidth + 2 - used) + $"< {most.ToString("+0.0;-0.0", CultureInfo.InvariantCulture)} sd";
    }

    private static string Rule(double step, double scale, bool ascii)
    {
        var rule = new string(ascii ? '-' : '─', PlotWidth + 1).ToCharArray();
        for (var value = 0.0; value <= scale * 1.0001; value += step)
            rule[(int)Math.Round(value / scale * PlotWidth)] = ascii ? '+' : '┴';
        return new string(' ', LabelWidth + 1) + (ascii ? '+' : '└') + new string(rule);
    }

    private static string Numbers(double step, double scale, string unit)
    {
        var canvas = new TextCanvas(Reports.TextPage.Width, 1);
        for (var value = 0.0; value <= scale * 1.0001; value += step)
        {
            var number = Axis.Number(value, step);
            var at = LabelWidth + 2 + (int)Math.Round(value / scale * PlotWidth) - (number.Length / 2);
            var text = value + step > scale * 1.0001 ? $"{number} {unit}" : number;
            foreach (var (i, c) in text.Index())
                canvas.Put(at + i, 0, c);
        }

        return canvas.Row(0);
    }
}
