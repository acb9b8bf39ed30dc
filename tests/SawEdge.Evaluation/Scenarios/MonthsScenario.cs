using SawEdge.Core;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Evaluation.Play;
using SawEdge.Evaluation.Population;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Scenarios;

/// <summary>How often scores of a kind were reached.</summary>
internal sealed class ScoreCounts
{
    public long Cuts { get; set; }

    /// <summary>Cuts with a score of at least 1, 2, 3.</summary>
    public long[] Reached { get; } = new long[3];

    public void Add(double score)
    {
        Cuts++;
        for (var s = 1; s <= 3; s++)
        {
            if (score >= s)
                Reached[s - 1]++;
        }
    }

    public void Add(ScoreCounts other)
    {
        Cuts += other.Cuts;
        for (var i = 0; i < 3; i++)
            Reached[i] += other.Reached[i];
    }
}

/// <summary>What a saw without faults gave.</summary>
internal sealed class MonthsResult
{
    public required Mapping Mapping { get; init; }

    /// <summary>Cuts that got a record.</summary>
    public long Cuts { get; set; }

    /// <summary>Cuts whose record says that the blade came through: all of them did.</summary>
    public long Whole { get; set; }

    /// <summary>Scores once the saw is known, by kind of view; the cut's own under <c>cut</c>.</summary>
    public SortedDictionary<string, ScoreCounts> Later { get; } = new(StringComparer.Ordinal);

    /// <summary>Scores in the start-up phase.</summary>
    public SortedDictionary<string, ScoreCounts> StartUp { get; } = new(StringComparer.Ordinal);

    /// <summary>Cuts above the saw's own threshold.</summary>
    public long OverThreshold { get; set; }

    public long Findings { get; set; }

    public SortedDictionary<string, long> FindingKinds { get; } = new(StringComparer.Ordinal);

    /// <summary>Cuts with a doubt about signals or job.</summary>
    public long Doubted { get; set; }

    /// <summary>Blade changes, and what was proposed.</summary>
    public ProposalCount? Proposals { get; set; }

    public double Days { get; set; }
}

/// <summary>A saw without faults: every alarm is a false one.</summary>
internal sealed class MonthsScenario : Onlooker
{
    /// <summary>Cycles of a saw.</summary>
    public const int Cycles = 1200;

    /// <summary>The operator changes a blade at this share of its life.</summary>
    public const double ChangeAtLife = 0.8;

    /// <summary>First cuts of a saw, which are reported apart: it is not known yet.</summary>
    public const int StartUpCuts = 100;

    private readonly MonthsResult _result;
    private readonly ProposalWatch _blades = new();
    private DateTimeOffset? _first;

    private MonthsScenario(SawDraw draw) => _result = new() { Mapping = draw.Mapping };

    public override bool IsDone => false;

    public static (MonthsResult Result, RunCounts Run) Play(ulong seed, int number, string? dump)
    {
        var draw = SawDraw.Draw(seed, "months", number, ChangeAtLife, startLife: 0.7);
        var run = new SawRun(draw);
        var scenario = new MonthsScenario(draw);
        using var written = dump is null ? null : new CutDump(dump, draw, _ => "");
        var counts = run.Play(Cycles, written is null ? [scenario] : [scenario, written]);
        scenario._result.Proposals = scenario._blades.Count(run.Pipeline.Recorder.Blades, draw.Mapping);
        return (scenario._result, counts);
    }

    public override void OnTurn(VirtualSaw saw, SawTruth truth)
    {
        _blades.OnTurn(truth);
        _first ??= truth.Started;
        _result.Days = (truth.Started - _first.Value).TotalDays;
    }

    public override void OnFinding(LiveFinding finding, long frame, SawTruth truth)
    {
        _result.Findings++;
        var kind = finding.Kind.ToName();
        _result.FindingKinds[kind] = _result.FindingKinds.GetValueOrDefault(kind) + 1;
    }

    public override void OnCut(FinishedCut cut, SawTruth truth, bool again)
    {
        // What people were told at the time counts, not what was made of it later.
        if (again)
            return;
        _result.Cuts++;
        if (cut.Record.Outcome is CutOutcome.Completed or CutOutcome.Trim)
            _result.Whole++;
        var made = cut.Assessment;
        if (made.Doubts.Count > 0)
            _result.Doubted++;
        if (made.Score >= made.Threshold)
            _result.OverThreshold++;
        var into = _result.Cuts <= StartUpCuts ? _result.StartUp : _result.Later;
        if (made.Score is { } score)
            Of(into, "cut").Add(score);
        foreach (var view in made.Views)
            Of(into, CutDump.KindOf(view)).Add(view.Score);
    }

    private static ScoreCounts Of(SortedDictionary<string, ScoreCounts> counts, string kind) =>
        counts.TryGetValue(kind, out var found) ? found : counts[kind] = new();
}
