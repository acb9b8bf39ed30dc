using System.Globalization;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Load;

/// <summary>What is taken in of a cut, and what is left out and why.</summary>
internal sealed partial class LoadScorer
{
    private static string WhyLeftOut(Cut cut, IReadOnlyList<LiveFinding> findings, List<string> doubts, List<ViewScore> views, double p)
    {
        if (!IsFull(cut))
            return $"left out: {CutOutcomes.ToName(cut.Outcome).Replace('_', ' ')}";
        if (doubts.Count > 0 || cut.Doubts != SignalDoubts.None)
            return "left out: signals or job in doubt";
        if (findings.Count > 0)
            return $"left out: {findings[0].Kind.ToName().Replace('_', ' ')} while it ran";
        if (cut.Coverage < CutFigures.LeastCoverage)
            return "left out: too few of its frames were seen";
        if (views.Count == 0)
            return "left out: the signals allow no view of it";
        if (p >= LeftOutBelow)
            return "";
        var worst = views.MinBy(view => view.PValue)!;
        return string.Create(CultureInfo.InvariantCulture, $"left out: {worst.What} is unusual (score {worst.Score:0.0})");
    }

    private void Learn(in ScoredCut scored, Cut cut, CutResiduals? residuals, CutState state, (double Mean, double Spread) idle, List<ViewScore> views)
    {
        var cutOff = 1 - Math.Pow(1 - LeftOutBelow, 1.0 / views.Count);
        if (residuals is not null && !double.IsNaN(state.Level))
        {
            if (state.Representative[(int)LoadView.Level])
                _runs.Add(state.Bar, state.Level - state.LevelExpected.BarlessMean);
            _levelTrend.Learn(state.LevelCut, state.Level, state.LevelExpected);
            if (!double.IsNaN(state.ShapeLevel))
                _shapes.Learn(state.Kind, residuals, state.ShapeLevel, state.Standardised);
        }

        if (!double.IsNaN(state.Pace))
            _paceTrend.Learn(state.PaceCut, state.Pace, state.PaceExpected);
        if (cut.IdleLoadKw > 0)
            _idles.Learn(state.IdleKind, cut.IdleLoadKw, cut.MeanBladeSpeedMMin, cut.StartedAt, idle.Mean, idle.Spread);
        foreach (var view in views)
            ChannelOf(view).Learn(view, cutOff, state.IsRepresentative(view, _idles));
    }

    // What has been unusual for long is what this saw is like now, and a saw that learns nothing any more is blind to everything else.
    private string CountLeftOut(List<ViewScore> views, string why)
    {
        foreach (var view in views)
        {
            var channel = ChannelOf(view);
            if (!(view.PValue < LeftOutBelow))
            {
                channel.LeftOut = 0;
                continue;
            }

            if (++channel.LeftOut >= Lasting)
                channel.Suspect();
            if (channel.LeftOut < MostLeftOut)
                continue;
            channel.LeftOut = 0;
            if (channel == _level || channel == _lately)
                LoosenLevel();
            else if (channel == _pace)
                _paceTrend.Loosen();
            else if (channel == _idle)
                _idles.Loosen();
            else
                channel.Muted = true;
            why += string.Create(CultureInfo.InvariantCulture, $"; after {MostLeftOut} such cuts in a row {view.What} is taken as this saw's new normal");
        }

        return why;
    }

    private void LoosenLevel()
    {
        _levelTrend.Loosen();
        _runs.Clear();
    }

    private ViewChannel ChannelOf(ViewScore view) => view.View switch
    {
        LoadView.Shape => _shape,
        LoadView.Pace => _pace,
        LoadView.Loop => _loop,
        _ => view.What switch { Idle => _idle, Lately => _lately, _ => _level },
    };
}
