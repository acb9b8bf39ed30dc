using SawEdge.Core;
using SawEdge.Core.Blades;
using SawEdge.Core.Load;
using SawEdge.Evaluation.Play;
using SawEdge.Evaluation.Population;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Scenarios;

/// <summary>A forecast of the area left until a blade is dull, and the truth, m2.</summary>
/// <param name="AtUsed">Share of its life used.</param>
/// <param name="Forecast">The forecast; null where none was made.</param>
/// <param name="LowM2">Lower end of its interval.</param>
/// <param name="HighM2">Upper end of its interval; null where it is open.</param>
/// <param name="TrueM2">Area that was really left until specific energy had risen by the dull limit.</param>
/// <param name="LifeM2">The blade's life.</param>
internal sealed record ForecastCheck(double AtUsed, double? Forecast, double? LowM2, double? HighM2, double TrueM2, double LifeM2);

/// <summary>One blade from new to the end of its life.</summary>
internal sealed class BladeLife(Mapping mapping)
{
    public Mapping Mapping => mapping;

    /// <summary>Whether it was played to its end.</summary>
    public bool IsWhole { get; set; }

    /// <summary>Share of its life that was left when it was called due; null where it was not.</summary>
    public double? LeftAtCall { get; set; }

    /// <summary>What called it: <c>due</c> or <c>score</c>.</summary>
    public string CalledBy { get; set; } = "";

    public List<ForecastCheck> Forecasts { get; } = [];
}

/// <summary>What a saw gave whose blades were run to their end.</summary>
/// <param name="Mapping">What is mapped.</param>
/// <param name="Lives">The lives that were played from new to the end.</param>
/// <param name="Proposals">What was proposed of the blade changes.</param>
internal sealed record LivesResult(Mapping Mapping, IReadOnlyList<BladeLife> Lives, ProposalCount Proposals);

/// <summary>Blades that are run to the end of their life, with no other fault.</summary>
internal sealed class LivesScenario : Onlooker
{
    /// <summary>Blades of a saw; the first one is not judged: it was on the saw when watching began.</summary>
    public const int Blades = 3;

    /// <summary>Shares of life at which the forecast is looked at.</summary>
    public static readonly IReadOnlyList<double> Checks = [0.5, 0.7];

    // Longer cuts than elsewhere: a life is an area, and handling between the cuts wears nothing.
    private const double ShortestCutS = 30;

    private const long MostCycles = 12_000;

    private readonly SawDraw _draw;
    private readonly List<BladeLife> _lives = [];
    private readonly ProposalWatch _changes = new();
    private string _blade = "";
    private int _blades;
    private int _checked;

    private LivesScenario(SawDraw draw) => _draw = draw;

    public override bool IsDone => _blades > Blades;

    public static (LivesResult Result, RunCounts Run) Play(ulong seed, int number, string? dump)
    {
        var draw = SawDraw.Draw(seed, "lives", number, changeAtLife: 1, startLife: 0.6, ShortestCutS);
        var scenario = new LivesScenario(draw);
        using var written = dump is null ? null : new CutDump(dump, draw, _ => "");
        var run = new SawRun(draw);
        var counts = run.Play(MostCycles, written is null ? [scenario] : [scenario, written]);
        var proposals = scenario._changes.Count(run.Pipeline.Recorder.Blades, draw.Mapping);
        return (new(draw.Mapping, [.. scenario._lives.Where(life => life.IsWhole)], proposals), counts);
    }

    public override void OnTurn(VirtualSaw saw, SawTruth truth)
    {
        _changes.OnTurn(truth);
        if (truth.Blade == _blade)
            return;
        if (_lives.Count > 0)
            _lives[^1].IsWhole = true;
        _blade = truth.Blade;
        _blades++;
        _checked = 0;
        if (_blades is > 1 and <= Blades)
            _lives.Add(new BladeLife(_draw.Mapping));
    }

    public override void OnCut(FinishedCut cut, SawTruth truth, bool again)
    {
        if (again || _lives.Count == 0 || truth.Blade != _blade || IsDone)
            return;
        var (life, made) = (_lives[^1], cut.Assessment);
        if (life.LeftAtCall is null)
        {
            var due = made.Wear?.IsDue == true;
            var called = made.ScoreOf(LoadView.Level) >= FaultsScenario.CallScore && made.Causes.Count > 0 && made.Causes[0].Name == "dull_blade";
            if (due || called)
                (life.LeftAtCall, life.CalledBy) = (1 - truth.BladeLifeUsed, due ? "due" : "score");
        }

        if (_checked < Checks.Count && truth.BladeLifeUsed >= Checks[_checked])
            Check(life, made.Wear, truth, Checks[_checked++]);
    }

    private void Check(BladeLife life, WearForecast? wear, SawTruth truth, double at)
    {
        var whole = (truth.BladeAreaM2 - (truth.CutAreaCm2 / 10_000)) / truth.BladeLifeUsed;
        if (DullAt() is not { } dull)
            return;
        life.Forecasts.Add(new(at, wear?.AreaLeftM2, wear?.LowM2, wear?.HighM2, Math.Max(0, (dull * whole) - truth.BladeAreaM2), whole));
    }

    // The used share of life at which specific energy has really risen by the dull limit; null where it does not in a life.
    private double? DullAt()
    {
        var rise = new LoadSettings().DullRise;
        var blade = _draw.Options.Blade;
        if (blade.WearFactor(1) < 1 + rise)
            return null;
        var (low, high) = (0.0, 1.0);
        for (var i = 0; i < 60; i++)
        {
            var middle = (low + high) / 2;
            (low, high) = blade.WearFactor(middle) < 1 + rise ? (middle, high) : (low, middle);
        }

        return high;
    }
}
