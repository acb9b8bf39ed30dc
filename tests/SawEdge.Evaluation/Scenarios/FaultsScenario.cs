using SawEdge.Core;
using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Evaluation.Play;
using SawEdge.Evaluation.Population;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Randomness;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Scenarios;

/// <summary>What a saw with faults gave.</summary>
/// <param name="Episodes">Its episodes, the last ones of a run that ended early left out.</param>
/// <param name="QuietCuts">Cuts outside any episode, after the learning.</param>
/// <param name="QuietAlarms">Those among them with a score of at least 3.</param>
internal sealed record FaultsResult(IReadOnlyList<Episode> Episodes, long QuietCuts, long QuietAlarms);

/// <summary>A saw that learns for a while without faults, and then has one after the other, with quiet times between.</summary>
internal sealed class FaultsScenario : Onlooker
{
    /// <summary>Cycles before the first fault.</summary>
    public const int LearningCycles = 170;

    public const int EpisodesOfASaw = 12;

    public const double ChangeAtLife = 0.8;

    /// <summary>Score from which a cut is called: one normal cut in a thousand.</summary>
    public const double CallScore = 3;

    private const ulong EpisodeStream = 201;

    // No fault is begun while the blade is new, nor when it is about to be changed: an episode shall be about its fault.
    private const int LeastCutsOfBlade = 25;
    private const double MostLifeUsed = 0.7;

    private const long MostCycles = 3000;

    private readonly SawDraw _draw;
    private readonly Xoshiro256 _random;
    private readonly Queue<FaultCell> _plan;
    private readonly List<Episode> _episodes = [];
    private readonly Dictionary<long, Episode> _byCycle = [];
    private readonly EvidenceWatch _evidence = new();
    private Episode? _open;
    private Fault? _fault;
    private long _nextCycle = LearningCycles;
    private string _blade = "";
    private int _cutsOfBlade;
    private long _ending = long.MaxValue;
    private long _cycle;
    private long _quiet;
    private long _alarms;

    private FaultsScenario(SawDraw draw, Xoshiro256 random)
    {
        (_draw, _random) = (draw, random);
        FaultCell[] cells = [.. FaultTable.Cells.Where(cell => cell.Fits(draw.Mapping))];
        for (var i = cells.Length - 1; i > 0; i--)
        {
            var j = (int)(random.Uniform() * (i + 1));
            (cells[i], cells[j]) = (cells[j], cells[i]);
        }

        _plan = new(cells.Take(EpisodesOfASaw));
    }

    public override bool IsDone => _cycle > _ending;

    public static (FaultsResult Result, RunCounts Run) Play(ulong seed, int number, string? dump)
    {
        var draw = SawDraw.Draw(seed, "faults", number, ChangeAtLife, startLife: 0.3);
        var scenario = new FaultsScenario(draw, new Xoshiro256(seed, EpisodeStream, (ulong)number));
        using var written = dump is null ? null : new CutDump(dump, draw, scenario.WordsOf);
        var run = new SawRun(draw);
        var counts = run.Play(MostCycles, written is null ? [scenario] : [scenario, written]);
        return (new([.. scenario._episodes.Where(episode => episode.LastCycle > 0)], scenario._quiet, scenario._alarms), counts);
    }

    public override void OnTurn(VirtualSaw saw, SawTruth truth)
    {
        _cycle = truth.Cycle;
        _cutsOfBlade = truth.Blade == _blade ? _cutsOfBlade + 1 : 0;
        _blade = truth.Blade;
        if (_open is not null && _fault is not null)
            Follow(saw, truth);
        if (_open is null)
            TryBegin(saw, truth);
    }

    public override void OnFrame(VirtualSaw saw, long number, DateTimeOffset time, SawTruth truth)
    {
        if (_byCycle.TryGetValue(truth.Cycle, out var episode))
            _evidence.OnFrame(saw, number, time, episode);
    }

    public override void OnFinding(LiveFinding finding, long frame, SawTruth truth)
    {
        if (_byCycle.TryGetValue(truth.Cycle, out var episode) && episode.Cell.Findings.Contains(finding.Kind))
            episode.Find(truth.Cycle, frame, finding.At, CauseOf(finding.Kind));
    }

    public override void OnCut(FinishedCut cut, SawTruth truth, bool again)
    {
        if (again)
            return;
        var called = cut.Assessment.Score >= CallScore;
        var cause = cut.Assessment.Causes.Count > 0 ? cut.Assessment.Causes[0].Name : "";
        if (_byCycle.TryGetValue(truth.Cycle, out var episode))
        {
            var fits = cut.Assessment.Findings.Any(finding => episode.Cell.Findings.Contains(finding.Kind));

            // A job that does not fit what is cut is said at once, as a doubt; there is no score to wait for.
            var doubted = cut.Assessment.Doubts.Count > 0 && episode.Cell.Causes.Contains(cause);
            episode.Take(truth.Cycle, called || fits || doubted, cause);
        }
        else if (truth.Cycle > LearningCycles)
        {
            _quiet++;
            if (called)
                _alarms++;
        }
    }

    private static string CauseOf(LiveFindingKind kind) => kind switch
    {
        LiveFindingKind.BladeGone => "blade_gone",
        LiveFindingKind.Stall => "stall",
        LiveFindingKind.NoContact => "no_stock",
        LiveFindingKind.FrozenSignal => "frozen_signal",
        _ => kind.ToName(),
    };

    private string WordsOf(long cycle) =>
        _byCycle.TryGetValue(cycle, out var episode) ? FormattableString.Invariant($"{episode.Cell.Fault} {episode.Cell.Severity} {cycle - episode.FirstCycle + 1}") : "";

    private void Follow(VirtualSaw saw, SawTruth truth)
    {
        var episode = _open!;
        var holds = truth.Faults.Count > 0;
        if (holds)
        {
            if (episode.FirstCycle == 0)
                episode.FirstCycle = truth.Cycle;
            _byCycle[truth.Cycle] = episode;
            _evidence.OnTurn(saw, truth, episode);
            // The blade is changed after the last cycle, which is known where the fault is not one of a bar.
            if (!_fault!.When.OneBar && truth.Cycle == episode.FirstCycle + _fault.When.Cycles - 1)
            {
                if (episode.Cell.EndsWithNewBlade)
                    saw.ChangeBlade();
                End(saw, truth.Cycle);
            }
        }
        else if (episode.FirstCycle > 0)
        {
            End(saw, truth.Cycle - 1);
        }
    }

    private void End(VirtualSaw saw, long lastCycle)
    {
        saw.SwitchOff(_fault!);
        _open!.LastCycle = lastCycle;
        (_open, _fault) = (null, null);
        _nextCycle = lastCycle + 25 + (int)(_random.Uniform() * 30);
        if (_plan.Count == 0)
            _ending = lastCycle + 12;
    }

    private void TryBegin(VirtualSaw saw, SawTruth truth)
    {
        if (truth.Cycle < _nextCycle || _plan.Count == 0 || _cutsOfBlade < LeastCutsOfBlade || truth.BladeLifeUsed > MostLifeUsed)
            return;
        var cell = _plan.Dequeue();
        if (cell.Make(new EpisodeSetting(_random, _draw, truth)) is not { } fault)
        {
            if (_plan.Count == 0)
                _ending = truth.Cycle;
            return;
        }

        (_open, _fault) = (new Episode(cell, _draw), fault);
        _episodes.Add(_open);
        saw.SwitchOn(fault);
    }
}
