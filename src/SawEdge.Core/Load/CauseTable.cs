using System.Globalization;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;

namespace SawEdge.Core.Load;

/// <summary>What the causes of a cut are judged from.</summary>
internal sealed class CauseContext
{
    public double? Score { get; set; }

    public double Threshold { get; init; }

    public Cut Cut { get; set; } = null!;

    public CutJob? Job { get; set; }

    public ViewScore? Level { get; set; }

    public ViewScore? Idle { get; set; }

    public ViewScore? Shape { get; set; }

    public ViewScore? Pace { get; set; }

    public ViewScore? Loop { get; set; }

    /// <summary>Middle of the stretch that stands out, as a share of the depth.</summary>
    public double ShapeMiddle { get; set; }

    /// <summary>Amplitude at the loop frequency as a share of the net load.</summary>
    public double LoopSwing { get; set; }

    /// <summary>Specific energy and what was expected of it, J/mm3; NaN without a section.</summary>
    public (double Seen, double Expected) MeanEnergy { get; set; } = (double.NaN, double.NaN);

    public bool SectionMisfit { get; set; }

    public OnsetTracker? Onset { get; set; }

    public required IReadOnlyList<LiveFinding> Findings { get; init; }
}

/// <summary>
/// The open table of patterns: what an unusual cut looks like, and what may be behind it. Each row weighs the evidence in units
/// of the score; rows are common practice, no source. Advice to a person.
/// </summary>
internal static class CauseTable
{

    // One normal cut in a thousand: from here on a person may ask why, whatever the saw's own threshold is.
    private const double WorthACause = 3;

    // A cause that fits less than this is not worth a line.
    private const double LeastWeight = 0.05;

    private static readonly (string Name, Func<CauseContext, double> Weight, Func<CauseContext, string> Evidence, string MayBe, string Caution)[] Rows =
    [
        ("blade_gone", c => Found(c, LiveFindingKind.BladeGone), c => Words(c, LiveFindingKind.BladeGone), "The blade may be broken or off its wheels.", AlarmCaution.LockOut),
        ("stall", c => Found(c, LiveFindingKind.Stall), c => Words(c, LiveFindingKind.Stall), "The blade may be pinched by stock that moved, dull, or fed too hard.", AlarmCaution.LockOut),
        ("overload", c => Found(c, LiveFindingKind.Overload), c => Words(c, LiveFindingKind.Overload), "The feed may be too hard, the blade dull, or the drive in trouble.", AlarmCaution.LockOut),
        ("no_stock", c => c.SectionMisfit ? 2 : Found(c, LiveFindingKind.NoContact), NoContact, "The bar may be used up, not fed, or another section than the job says.", AlarmCaution.AtTheStock),
        ("load_after_breakthrough", c => Found(c, LiveFindingKind.LoadAfterBreakthrough), c => Words(c, LiveFindingKind.LoadAfterBreakthrough), "A cut-off piece may be jammed against the blade, or the blade runs in the table or a guide.", AlarmCaution.LockOut),
        ("frozen_signal", c => Found(c, LiveFindingKind.FrozenSignal), c => Words(c, LiveFindingKind.FrozenSignal), "The transducer, its wiring or the mapping of the signal may be at fault.", AlarmCaution.Wiring),
        ("wrong_job", c => c.SectionMisfit ? 20 : 0, c => Text($"The head travelled {c.Cut.DepthMm:0.#} mm in the stock; the section of job '{c.Cut.Job}' is {c.Job?.Section.HeightMm:0.#} mm high."), "Another job may be loaded at the saw than the controller says, or the bar lies otherwise in the vise.", AlarmCaution.AtTheStock),
        ("hard_spot", c => Above(c.Shape), c => Text($"The load was {Percent(c.Shape!.Value)} above the rest of the cut at {c.Shape.What}."), "The bar may have a hard spot, an inclusion, a weld or a flame-cut edge there.", "Look at the cut face once the part is out; look for chipped teeth only with the saw isolated, locked out and tagged out."),
        ("loose_stock", c => Below(c.Shape), c => Text($"The load was {Percent(c.Shape!.Value)} below the rest of the cut at {c.Shape.What}."), "The stock may be loose, shifted or hollow there, or a piece broke out.", AlarmCaution.AtTheStock),
        ("stripped_teeth", c => Strength(c.Loop), c => Text($"The load swings by {c.LoopSwing * 100:0.#} % with each turn of the blade."), "The blade may have stripped or broken teeth, or a bad weld.", AlarmCaution.LockOut),
        ("drag", c => Above(c.Idle), c => Text($"The motor took {c.Idle!.Value:0.00} kW with the blade in air; {c.Idle.Expected:0.00} kW is usual."), "Guides, bearings, blade tension, brush or gearbox oil may drag.", AlarmCaution.LockOut),
        ("slipping_drive", c => Below(c.Idle), c => Text($"The motor took only {c.Idle!.Value:0.00} kW with the blade in air; {c.Idle.Expected:0.00} kW is usual."), "The blade may slip on its wheels, the belt be loose, or the blade tension low.", AlarmCaution.LockOut),
        ("dull_blade", Dull, Energy, "The blade may be dull, or its teeth overheated.", AlarmCaution.LockOut),
        ("wrong_material", WrongMaterial, Energy, "The bar may be of another material or hardness than the job says.", "Check the mark of the bar before the rest of it is cut; a wrong bar may be dangerous further on."),
        ("easier_than_expected", c => 0.9 * Below(c.Level) * (WrongMaterial(c) > 0 ? 0.5 : 1), Energy, "The blade may have been changed without an entry, or the stock be softer or smaller than the job says.", AlarmCaution.AtTheStock),
        ("feed_starved", Starved, Pace, "The feed pressure may be low, oil cold or short of air, a valve sticking, or the operator turned the feed down; a glazed blade cuts slowly too.", AlarmCaution.LockOut),
        ("feed_too_fast", c => 0.9 * Below(c.Pace), Pace, "The feed may be set too fast, or the blade was changed without an entry.", AlarmCaution.AtTheStock),
    ];

    /// <summary>The words for the causes.</summary>
    public static IReadOnlyList<string> Names => [.. Rows.Select(row => row.Name)];

    /// <summary>What may be behind a finding of the live watch, before the cut is over and everything else can be weighed.</summary>
    public static (string Name, string MayBe, string Caution) Of(LiveFindingKind kind)
    {
        var name = kind == LiveFindingKind.NoContact ? "no_stock" : kind.ToName();
        var row = Rows.First(row => row.Name == name);
        return (row.Name, row.MayBe, row.Caution);
    }

    /// <summary>The likely causes, the likeliest first; none where the cut is not unusual and nothing was found while it ran.</summary>
    public static IReadOnlyList<LikelyCause> Rank(CauseContext context)
    {
        if (!(context.Score >= Math.Min(context.Threshold, WorthACause)) && context.Findings.Count == 0 && !context.SectionMisfit)
            return [];
        var weighed = Rows.Select(row => (Row: row, Weight: row.Weight(context))).Where(row => row.Weight > 0).ToList();
        var sum = weighed.Sum(row => row.Weight);
        return
        [
            .. weighed.Where(row => row.Weight >= LeastWeight * sum).OrderByDescending(row => row.Weight)
                .Select(row => new LikelyCause(row.Row.Name, Math.Round(row.Weight / sum, 3), row.Row.Evidence(context), row.Row.MayBe, row.Row.Caution)),
        ];
    }

    // What one normal cut in ten shows is no evidence.
    private static double Strength(ViewScore? view) => view is null || view.Score < 1 ? 0 : view.Score - 0.5;

    private static double Above(ViewScore? view) => view?.Statistic > 0 ? Strength(view) : 0;

    private static double Below(ViewScore? view) => view?.Statistic < 0 ? Strength(view) : 0;

    // A blade dulls over many cuts, and over bars; a bar of another material begins with the bar and ends with it.
    private static double Dull(CauseContext c)
    {
        var up = Above(c.Level);
        if (up == 0)
            return 0;
        var fits = c.Onset is { Run: > 0 } onset && onset is { Sudden: true, AtBar: true, Bars: 1 } ? 0.4 : 1;
        return (up + (0.3 * Above(c.Pace))) * fits;
    }

    private static double WrongMaterial(CauseContext c)
    {
        var strength = Strength(c.Level);
        if (strength == 0 || c.Onset is not { Run: > 0 } onset)
            return 0.3 * strength;
        return onset is { Sudden: true, AtBar: true, Bars: 1 } ? strength : 0.3 * strength;
    }

    // Slower and not harder to cut: what a dull blade slows down, it also loads.
    private static double Starved(CauseContext c) => Math.Max(0, Above(c.Pace) - (0.5 * Above(c.Level)) - (0.3 * Above(c.Shape)));

    private static double Found(CauseContext c, LiveFindingKind kind) => c.Findings.Any(f => f.Kind == kind) ? 20 : 0;

    private static string Words(CauseContext c, LiveFindingKind kind) => c.Findings.First(f => f.Kind == kind).Words;

    private static string NoContact(CauseContext c) => c.Findings.Any(f => f.Kind == LiveFindingKind.NoContact)
        ? Words(c, LiveFindingKind.NoContact)
        : "The stock was met deeper than the job's section begins.";

    private static string Energy(CauseContext c)
    {
        var off = Percent(c.Level!.Value - c.Level.Expected);
        var way = c.Level.Statistic > 0 ? "above" : "below";
        return double.IsNaN(c.MeanEnergy.Seen)
            ? Text($"The load of the cut was {off} {way} what this saw shows on this job.")
            : Text($"The cut took {c.MeanEnergy.Seen:0.00} J/mm3, {off} {way} what this blade and material let expect.");
    }

    private static string Pace(CauseContext c) =>
        Text($"The cut took {Percent(c.Pace!.Value - c.Pace.Expected)} {(c.Pace.Statistic > 0 ? "longer" : "less time")} than such cuts have taken.");

    private static string Percent(double log) => Text($"{Math.Abs(Math.Exp(log) - 1) * 100:0} %");

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
