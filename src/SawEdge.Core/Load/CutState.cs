using SawEdge.Core.Cycles;

namespace SawEdge.Core.Load;

/// <summary>What the looks at one cut leave for learning from it.</summary>
internal sealed class CutState
{
    public CutState(CutResiduals? residuals)
    {
        Standardised = new double[residuals?.Rho.Length ?? 0];
        Array.Fill(Standardised, double.NaN);
    }

    public string Kind { get; set; } = "";

    public required string IdleKind { get; init; }

    public required string Bar { get; init; }

    public required double IdleKw { get; init; }

    /// <summary>Whether even the job is a guess: how far unlike cuts differ from each other is then all that can be learned.</summary>
    public required bool IsGuess { get; init; }

    public double Level { get; set; } = double.NaN;

    public double ShapeLevel { get; set; } = double.NaN;

    /// <summary>Variance of the level from the scatter of its bins.</summary>
    public double LevelNoise { get; set; }

    public double Pace { get; set; } = double.NaN;

    public TrendCut LevelCut { get; set; }

    public TrendCut PaceCut { get; set; }

    public TrendExpectation LevelExpected { get; set; }

    public TrendExpectation PaceExpected { get; set; }

    public double[] Standardised { get; }

    /// <summary>By view: whether the statistic is one of a cut that is known well enough to count among the saw's others.</summary>
    public bool[] Representative { get; } = [false, false, false, true];

    public bool IsRepresentative(ViewScore view, IdleModel idles) => view.What == LoadScorer.Idle ? idles.IsScatter(view.Spread) || IsGuess : Representative[(int)view.View];
}
