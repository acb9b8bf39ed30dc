using SawEdge.Core.Load;
using SawEdge.Core.Signals;
using SawEdge.Evaluation.Population;
using SawEdge.Simulator.Faults;
using SawEdge.Simulator.Randomness;
using SawEdge.Simulator.Saws;

namespace SawEdge.Evaluation.Scenarios;

/// <summary>How strong a fault is; <see cref="Event"/> where it has no strength.</summary>
internal enum Severity
{
    Mild,
    Moderate,
    Severe,
    Event,
}

/// <summary>What an episode is made from.</summary>
/// <param name="Random">Draws of this episode.</param>
/// <param name="Draw">The saw.</param>
/// <param name="Now">The cycle that is being played; the fault begins with the next one.</param>
internal readonly record struct EpisodeSetting(Xoshiro256 Random, SawDraw Draw, SawTruth Now)
{
    public long Next => Now.Cycle + 1;

    public int Whole(int from, int to) => from + (int)(Random.Uniform() * (to - from + 1));
}

/// <summary>One kind of fault at one severity, and what counts as finding it.</summary>
internal sealed record FaultCell
{
    /// <summary>Word of the fault in the truth.</summary>
    public required string Fault { get; init; }

    public required Severity Severity { get; init; }

    /// <summary>Its strength in words, for the table.</summary>
    public required string Strength { get; init; }

    /// <summary>Makes the fault; null where this saw cannot show it.</summary>
    public required Func<EpisodeSetting, Fault?> Make { get; init; }

    /// <summary>Names of causes that are right.</summary>
    public required IReadOnlyList<string> Causes { get; init; }

    /// <summary>Live findings that fit.</summary>
    public IReadOnlyList<LiveFindingKind> Findings { get; init; } = [];

    /// <summary>Whether the operator puts a new blade on when it is over: teeth do not grow again.</summary>
    public bool EndsWithNewBlade { get; init; }

    /// <summary>Signals without which there is nothing to see of it.</summary>
    public IReadOnlyList<Signal> Needs { get; init; } = [];

    public bool Fits(Mapping mapping) => Needs.All(mapping.Has);
}

/// <summary>
/// Every fault of the evaluation with its severities, how long an episode lasts, and which causes and live findings are
/// right for it. The severities are choices, no source: mild is what a good fitter just notices, severe what stops a shift.
/// </summary>
internal static class FaultTable
{
    public static readonly IReadOnlyList<FaultCell> Cells =
    [
        // Dulls evenly over 10 to 60 cycles, then stays for 10; then a new blade.
        .. Graded("dull_blade", [0.10, 0.20, 0.40], "specific energy +{0:0} %", 100, ["dull_blade"],
            Dull, newBlade: true),

        // A place 4 to 10 mm high between a quarter and three quarters of the depth, in up to 8 cuts of one bar.
        .. Graded("hard_spot", [0.3, 0.6, 1.2], "force +{0:0} % over 4..10 mm", 100, ["hard_spot"],
            (at, rise) => new HardSpot(FaultTrigger.OnBar(at.Next, 8), at.Random.Uniform(0.25, 0.75), at.Random.Uniform(4, 10), rise)),

        // 4 to 15 % of the loop, for 20 cycles; then a new blade.
        .. Graded("stripped_teeth", [0.15, 0.3, 0.6], "power swings by {0:0} % once a loop", 100, ["stripped_teeth"],
            (at, strength) => new StrippedTeeth(FaultTrigger.AtCycle(at.Next, 20), at.Random.Uniform(0.04, 0.15), strength), newBlade: true),

        // For 8 to 20 cycles.
        .. Graded("starved_feed", [0.08, 0.15, 0.35], "rate -{0:0} %", 100, ["feed_starved"],
            (at, loss) => new StarvedFeed(FaultTrigger.AtCycle(at.Next, at.Whole(8, 20)), loss)),

        // A share of the idle power of the job at hand, for 10 to 30 cycles.
        .. Graded("guide_drag", [0.10, 0.25, 0.60], "idle power +{0:0} %", 100, ["drag"],
            (at, share) => new GuideDrag(FaultTrigger.AtCycle(at.Next, at.Whole(10, 30)), share * at.Draw.Options.Machine.IdleKw(at.Now.Job.BladeSpeedMMin))),

        // One bar, at most 15 cuts of it.
        .. Graded("wrong_grade", [1.12, 1.25, 1.6], "one bar with {0:0} % of the force", 100, ["wrong_material"],
            (at, factor) => new WrongGrade(FaultTrigger.OnBar(at.Next, 15), factor)),

        // A stretch of a fifth to two fifths of the height, waves of 3 to 10 mm, in 1 to 4 cuts.
        .. Graded("loose_stock", [0.15, 0.3, 0.6], "load swings by {0:0} % over 20..40 % of the depth", 100, ["loose_stock"],
            (at, swing) => new LooseStock(
                FaultTrigger.AtCycle(at.Next, at.Whole(1, 4)), at.Random.Uniform(0.3, 0.7), at.Now.Job.Section.HeightMm * at.Random.Uniform(0.2, 0.4), swing, at.Random.Uniform(3, 10))),

        Event("wrong_job", "controller names a job with another section, 3..8 cuts", ["wrong_job"], [], WrongJob, Signal.Job),
        Event("blade_break", "at 20..80 % of the depth", ["blade_gone"], [LiveFindingKind.BladeGone],
            at => new BladeBreak(FaultTrigger.AtCycle(at.Next), at.Random.Uniform(0.2, 0.8), at.Random.Uniform(3, 6))),
        Event("stall", "at 20..80 % of the depth, 1.3..1.8 of rated power", ["stall"], [LiveFindingKind.Stall, LiveFindingKind.Overload],
            at => new Stall(FaultTrigger.AtCycle(at.Next), at.Random.Uniform(0.2, 0.8), at.Random.Uniform(3, 6), at.Random.Uniform(1.3, 1.8))),
        Event("no_stock", "one stroke in air", ["no_stock"], [LiveFindingKind.NoContact], at => new NoStock(FaultTrigger.AtCycle(at.Next))),
        Event("stuck_load", "load keeps its value from the middle of a cut on, 2 cycles", ["frozen_signal"], [LiveFindingKind.FrozenSignal],
            at => new StuckSignal(FaultTrigger.AtCycle(at.Next, 2), Signal.MotorLoad, at.Random.Uniform(0.4, 0.6))),
        Event("stuck_head", "head keeps its value from the middle of a cut on, 2 cycles", ["frozen_signal"], [LiveFindingKind.FrozenSignal],
            at => new StuckSignal(FaultTrigger.AtCycle(at.Next, 2), Signal.HeadPosition, at.Random.Uniform(0.4, 0.6)), Signal.HeadPosition),
    ];

    private static IEnumerable<FaultCell> Graded(
        string fault, double[] strengths, string words, double scale, string[] causes, Func<EpisodeSetting, double, Fault?> make, bool newBlade = false) =>
        strengths.Select((strength, i) => new FaultCell
        {
            Fault = fault,
            Severity = (Severity)i,
            Strength = string.Format(System.Globalization.CultureInfo.InvariantCulture, words, strength * scale),
            Make = at => make(at, strength),
            Causes = causes,
            EndsWithNewBlade = newBlade,
        });

    private static FaultCell Event(string fault, string words, string[] causes, LiveFindingKind[] findings, Func<EpisodeSetting, Fault?> make, params Signal[] needs) =>
        new() { Fault = fault, Severity = Severity.Event, Strength = words, Make = make, Causes = causes, Findings = findings, Needs = needs };

    private static DullBlade Dull(EpisodeSetting at, double rise)
    {
        var over = at.Whole(10, 60);
        return new DullBlade(FaultTrigger.AtCycle(at.Next, over + 10), rise, over);
    }

    // Another job of the list whose section differs by a fifth in area or a tenth in height: what is all but the same cannot be told, and does no harm.
    private static WrongJob? WrongJob(EpisodeSetting at)
    {
        var jobs = at.Draw.Options.Jobs;
        var here = Enumerable.Range(0, jobs.Count).First(i => ReferenceEquals(jobs[i], at.Now.Job));
        var next = (here + 1) % jobs.Count;
        var others = jobs.Where((job, i) => i != here && i != next && Differs(job, jobs[here]) && Differs(job, jobs[next])).ToArray();
        if (others.Length == 0)
            return null;
        return new WrongJob(FaultTrigger.AtCycle(at.Next, at.Whole(3, 8)), others[at.Whole(0, others.Length - 1)].Id);
    }

    private static bool Differs(VirtualJob a, VirtualJob b) =>
        Math.Abs(Math.Log(a.Section.AreaCm2 / b.Section.AreaCm2)) > 0.2 || Math.Abs(Math.Log(a.Section.HeightMm / b.Section.HeightMm)) > 0.1;
}
