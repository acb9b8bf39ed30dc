using SawEdge.Core.Blades;

namespace SawEdge.Core.Load;

/// <summary>What the load score says of one cut, and every number that led there.</summary>
public sealed record LoadAssessment
{
    /// <summary>The greatest score: beyond it no history says anything.</summary>
    public const double Cap = 12;

    /// <summary>Version of the way in which it was computed; another version is rebuilt from the history.</summary>
    public const int Algorithm = 1;

    /// <summary>-log10 of the share of normal cuts that look this odd, 0 to <see cref="Cap"/>; null where nothing could be looked at.</summary>
    public double? Score { get; init; }

    /// <summary>The score from which a cut is called unusual at this saw, from the accepted rate of false alarms or as fixed.</summary>
    public double Threshold { get; init; } = 3;

    /// <summary>Each view that the signals allowed; level may be there twice (energy and idle load).</summary>
    public IReadOnlyList<ViewScore> Views { get; init; } = [];

    /// <summary>What it was computed from, for example <c>level: section; shape: depth; pace: learned; loop: none</c>.</summary>
    public string Basis { get; init; } = "";

    /// <summary>The cut along its depth; null without a profile.</summary>
    public ResidualProfile? Profile { get; init; }

    /// <summary>Whether the saw's learned state took this cut in.</summary>
    public bool Accepted { get; init; }

    /// <summary>Why it was accepted or not, in words.</summary>
    public string Why { get; init; } = "";

    /// <summary>Likely causes, the likeliest first; empty where nothing calls for one.</summary>
    public IReadOnlyList<LikelyCause> Causes { get; init; } = [];

    /// <summary>What the live watch found while the cut ran.</summary>
    public IReadOnlyList<LiveFinding> Findings { get; init; } = [];

    /// <summary>What is wrong with the signals or the job, in whole sentences.</summary>
    public IReadOnlyList<string> Doubts { get; init; } = [];

    /// <summary>The blade after this cut; null where its area is not known.</summary>
    public WearForecast? Wear { get; init; }

    /// <summary>Whether the score reaches the saw's threshold.</summary>
    [System.Text.Json.Serialization.JsonIgnore]
    public bool IsUnusual => Score >= Threshold;

    /// <summary>The scores of one view; null where it could not be looked at.</summary>
    public double? ScoreOf(LoadView view) => Views.Where(v => v.View == view).Select(v => (double?)v.Score).Max();
}

/// <summary>One cut along its depth or time, bin by bin. All lists have the same length; NaN where a bin says nothing.</summary>
/// <param name="ByDepth">Whether the bins are shares of depth; otherwise of the cut time.</param>
/// <param name="LoadKw">Mean motor load, kW.</param>
/// <param name="ExpectedKw">Load expected of a normal cut like this one, kW.</param>
/// <param name="LowKw">Lower end of the band in which 95 of 100 normal cuts lie in this bin, kW.</param>
/// <param name="HighKw">Upper end of that band, kW.</param>
/// <param name="Standardised">How far out the bin lies from the rest of the cut, standard deviations.</param>
public sealed record ResidualProfile(
    bool ByDepth,
    IReadOnlyList<float> LoadKw,
    IReadOnlyList<float> ExpectedKw,
    IReadOnlyList<float> LowKw,
    IReadOnlyList<float> HighKw,
    IReadOnlyList<float> Standardised);
