using SawEdge.Core.Notation;
using SawEdge.Gateway.Commands.Plots;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Explain;

/// <summary>The load of a cut along its depth, or its time, against what was expected, as a plot with its heading.</summary>
internal static class LoadPlotText
{
    /// <summary>Draws; nothing where the cut has no profile.</summary>
    /// <param name="page">Where to draw.</param>
    /// <param name="cut">The cut.</param>
    /// <param name="units">Units to print in.</param>
    /// <param name="ascii">Whether to draw with plain ASCII characters.</param>
    public static void Write(TextPage page, Explained cut, DisplayUnits units, bool ascii)
    {
        if (cut.Assessment?.Profile is not { } profile)
            return;
        var depth = profile.ByDepth ? cut.Evidence?.Cut.DepthMm ?? double.NaN : cut.Record.CutTimeS ?? double.NaN;
        var (factor, unit) = (profile.ByDepth, units) switch
        {
            (false, _) => (1, "s"),
            (_, DisplayUnits.Inch) => (1 / Lengths.MmPerInch, "in"),
            _ => (1.0, "mm"),
        };
        var (loadFactor, loadUnit) = units == DisplayUnits.Inch ? (1 / QuantityKind.Power.Unit("hp")!.Factor, "hp") : (1, "kW");
        var lines = DepthPlot.Lines(profile, depth * factor, unit, loadFactor, loadUnit, ascii);
        if (lines.Count == 0)
            return;
        page.Heading(profile.ByDepth ? "Load along the depth" : "Load along the cut's time");
        foreach (var line in lines)
            page.Line(line);
    }
}
