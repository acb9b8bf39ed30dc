using System.Globalization;

namespace SawEdge.Gateway.Commands.Plots;

/// <summary>A blade's wear in a terminal: area to the right, rise of specific energy upward, with the dull limit and the forecast. Pure: numbers in, lines out.</summary>
internal static class WearPlot
{
    private const int LabelWidth = 8;
    private const int PlotWidth = 72;
    private const int Height = 16;

    /// <summary>The lines of the plot, at most 96 characters each; none where there is no point.</summary>
    /// <param name="points">Area, in the unit it is printed in, and rise as a share.</param>
    /// <param name="dull">The rise at which the blade counts as dull, as a share.</param>
    /// <param name="now">Area and rise now.</param>
    /// <param name="end">Area at which it will be dull; null where the rise does not get there.</param>
    /// <param name="unit">The unit of area.</param>
    /// <param name="ascii">Whether only plain ASCII may be used.</param>
    public static IReadOnlyList<string> Lines(IReadOnlyList<(double Area, double Rise)> points, double dull, (double Area, double Rise) now, double? end, string unit, bool ascii)
    {
        var seen = points.Where(point => double.IsFinite(point.Area) && double.IsFinite(point.Rise)).ToList();
        if (seen.Count == 0)
            return [];
        var (limit, forecast, measured) = ascii ? ('-', '.', 'o') : ('╌', '·', '●');
        var wide = Math.Max(Math.Max(seen.Max(point => point.Area), now.Area), end ?? 0);
        if (!(wide > 0))
            wide = 1;
        var xStep = Axis.Step(wide, 6);
        var xMost = xStep * Math.Ceiling(wide / xStep);
        var low = Math.Min(0, Math.Min(seen.Min(point => point.Rise), now.Rise));
        var high = Math.Max(Math.Max(dull, now.Rise), seen.Max(point => point.Rise));
        var yStep = Axis.Step((high - low) * 100, 4) / 100;
        (low, high) = (yStep * Math.Floor(low / yStep), yStep * Math.Ceiling(high / yStep * 1.0001));
        var canvas = new TextCanvas(PlotWidth + 1, Height);
        int Column(double area) => (int)Math.Round(area / xMost * PlotWidth);
        int Row(double rise) => (int)Math.Round((high - rise) / (high - low) * (Height - 1));

        for (var x = 0; x <= PlotWidth; x++)
            canvas.Put(x, Row(dull), limit);
        if (end is { } at && at > now.Area)
        {
            for (var x = Column(now.Area); x <= Column(at); x++)
                canvas.Put(x, Row(now.Rise + ((dull - now.Rise) * ((x * xMost / PlotWidth) - now.Area) / (at - now.Area))), forecast);
        }

        foreach (var (area, rise) in seen)
            canvas.Put(Column(area), Row(rise), measured);

        var labels = new string[Height];
        for (var rise = low; rise <= high + (yStep / 100); rise += yStep)
            labels[Row(rise)] = (rise * 100).ToString("0", CultureInfo.InvariantCulture) + " %";
        var lines = new List<string> { $"{"rise",LabelWidth} {measured} measured  {limit} dull  {forecast} forecast" };
        for (var row = 0; row < Height; row++)
            lines.Add($"{labels[row],LabelWidth} {(ascii ? '|' : '┤')}{canvas.Row(row)}".TrimEnd());
        var rule = new string(ascii ? '-' : '─', PlotWidth + 1).ToCharArray();
        var numbers = new TextCanvas(Reports.TextPage.Width, 1);
        for (var area = 0.0; area <= xMost * 1.0001; area += xStep)
        {
            rule[Column(area)] = ascii ? '+' : '┴';
            var number = Axis.Number(area, xStep);
            var text = area + xStep > xMost * 1.0001 ? $"{number} {unit}" : number;
            foreach (var (i, c) in text.Index())
                numbers.Put(LabelWidth + 2 + Column(area) - (number.Length / 2) + i, 0, c);
        }

        lines.Add($"{"",LabelWidth} {(ascii ? '+' : '└')}{new string(rule)}");
        lines.Add(numbers.Row(0));
        return lines;
    }
}
