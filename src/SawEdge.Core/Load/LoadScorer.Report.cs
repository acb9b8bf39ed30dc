using System.Globalization;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Load;

/// <summary>What is said of a cut besides its score.</summary>
internal sealed partial class LoadScorer
{
    // Thirty times off is no material and no wear.
    private string? WrongUnit(Cut cut, CutResiduals residuals)
    {
        const double Far = 30;
        if (!double.IsNaN(residuals.Whole) && Math.Abs(residuals.Whole) > Math.Log(Far))
        {
            var factor = Math.Exp(residuals.Whole);
            return string.Create(CultureInfo.InvariantCulture, $"The motor load is {(factor > 1 ? factor : 1 / factor):0} times {(factor > 1 ? "more" : "less")} than this cut can have needed: check the unit of motor_load (W read as kW is 1000 times).");
        }

        if (_machine.RatedPowerKw is { } rated && cut.MeanLoadKw > 10 * rated)
            return string.Create(CultureInfo.InvariantCulture, $"The motor load of {cut.MeanLoadKw:0} kW is {cut.MeanLoadKw / rated:0} times the rated power of {rated:0.##} kW: check the unit of motor_load (W read as kW is 1000 times).");
        return null;
    }

    private ResidualProfile ProfileOf(Cut cut, double idle, CutResiduals residuals, CutState state)
    {
        var bins = residuals.Rho.Length;
        var (expected, low, high, standardised) = (new float[bins], new float[bins], new float[bins], new float[bins]);
        Span<double> spread = stackalloc double[bins];
        var mean = _shapes.MeanOf(state.Kind);
        _shapes.SpreadOf(state.Kind, residuals, spread);

        // Where the section is known as a whole only, the bins' own level stands for it; else what was expected of the level.
        var level = residuals.Basis == ResidualBasis.Section ? state.ShapeLevel : state.LevelExpected.Mean;
        var levelSpread = residuals.Basis == ResidualBasis.Section ? 0 : state.LevelExpected.Spread;
        for (var j = 0; j < bins; j++)
        {
            var reach = 1.96 * Math.Sqrt((spread[j] * spread[j]) + (levelSpread * levelSpread));
            expected[j] = (float)(idle + (residuals.ModelKw[j] * Math.Exp(level + mean[j])));
            low[j] = (float)(idle + (residuals.ModelKw[j] * Math.Exp(level + mean[j] - reach)));
            high[j] = (float)(idle + (residuals.ModelKw[j] * Math.Exp(level + mean[j] + reach)));
            standardised[j] = (float)state.Standardised[j];
        }

        return new ResidualProfile(residuals.ByDepth, cut.Profile!.MeanLoadKw, expected, low, high, standardised);
    }

    private static string BasisOf(CutResiduals? residuals, List<ViewScore> views)
    {
        string Of(LoadView view, string how) => views.Exists(v => v.View == view) ? how : "none";
        var level = residuals?.Basis switch { ResidualBasis.Depth => "section by depth", ResidualBasis.Section => "section as a whole", ResidualBasis.Job => "earlier cuts of the job", _ => "idle load only" };
        var shape = residuals is null ? "none" : residuals.ByDepth ? "depth" : "time share";
        return $"level: {Of(LoadView.Level, level)}; shape: {Of(LoadView.Shape, shape)}; pace: {Of(LoadView.Pace, "learned time")}; loop: {Of(LoadView.Loop, "blade position")}";
    }
}
