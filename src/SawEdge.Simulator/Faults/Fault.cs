using SawEdge.Core.Signals;
using SawEdge.Simulator.Saws;

namespace SawEdge.Simulator.Faults;

/// <summary>Something that goes wrong at a virtual saw, with its strength. The catalogue below is complete.</summary>
/// <param name="When">When it holds.</param>
public abstract record Fault(FaultTrigger When)
{
    /// <summary>Its word in the truth, snake case.</summary>
    public abstract string Name { get; }

    /// <summary>What of it cannot be, in words; null where all can.</summary>
    internal virtual string? Mistake => null;

    /// <summary>A figure that must be a share of something.</summary>
    private protected string? ShareMistake(string figure, double value, double most = 1) =>
        value >= 0 && value <= most ? null : FormattableString.Invariant($"{Name}: {figure} is {value}; it must lie between 0 and {most}.");

    /// <summary>A figure that must not be negative.</summary>
    private protected string? AmountMistake(string figure, double value) =>
        value >= 0 && double.IsFinite(value) ? null : FormattableString.Invariant($"{Name}: {figure} is {value}; it must not be negative.");
}

/// <summary>The blade dulls faster than by its area: specific energy rises over some cycles, and a yielding feed slows down.</summary>
/// <param name="When">When it holds.</param>
/// <param name="Rise">Rise of specific energy in the end, as a share: 0.3 is moderate.</param>
/// <param name="OverCycles">Cycles over which it rises evenly; 1: at once.</param>
public sealed record DullBlade(FaultTrigger When, double Rise, int OverCycles = 1) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "dull_blade";

    /// <inheritdoc/>
    internal override string? Mistake => AmountMistake("rise", Rise) ?? AmountMistake("number of cycles", OverCycles);
}

/// <summary>A hard place in the bar: force up, and the yielding feed slower, over a few mm of depth.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DepthShare">Its middle, as a share of the height, 0..1.</param>
/// <param name="HeightMm">How high it is, mm.</param>
/// <param name="Rise">Rise of cutting force in it, as a share.</param>
public sealed record HardSpot(FaultTrigger When, double DepthShare, double HeightMm, double Rise) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "hard_spot";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare) ?? AmountMistake("height", HeightMm) ?? AmountMistake("rise", Rise);
}

/// <summary>A stretch of the blade without teeth: less force while it passes, more in the teeth behind it, once a loop.</summary>
/// <param name="When">When it holds.</param>
/// <param name="LoopShare">Share of the loop without teeth, up to 0.4.</param>
/// <param name="Strength">Swing of the cutting power, as a share: 1: no chip at all in the gap, twice the load behind it.</param>
public sealed record StrippedTeeth(FaultTrigger When, double LoopShare, double Strength) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "stripped_teeth";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("share of the loop", LoopShare, 0.4) ?? ShareMistake("strength", Strength);
}

/// <summary>The feed does not give what was set: the head descends slower, with less load.</summary>
/// <param name="When">When it holds.</param>
/// <param name="Loss">Loss of cutting rate, as a share below 1.</param>
public sealed record StarvedFeed(FaultTrigger When, double Loss) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "starved_feed";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("loss", Loss, 0.95);
}

/// <summary>Drag in guides or drive: idle power up, in air and in the cut.</summary>
/// <param name="When">When it holds.</param>
/// <param name="ExtraKw">Rise of idle power, kW.</param>
public sealed record GuideDrag(FaultTrigger When, double ExtraKw) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "guide_drag";

    /// <inheritdoc/>
    internal override string? Mistake => AmountMistake("extra power", ExtraKw);
}

/// <summary>A bar of another material than the job says, cut with the job's settings.</summary>
/// <param name="When">When it holds.</param>
/// <param name="Material">What the bar is really made of.</param>
public sealed record WrongMaterial(FaultTrigger When, VirtualMaterial Material) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "wrong_material";
}

/// <summary>A bar of a grade that is harder or softer than the job's own, whichever job is run: force by a factor, cut with the job's settings.</summary>
/// <param name="When">When it holds.</param>
/// <param name="ForceFactor">Its cutting force over that of the job's material.</param>
public sealed record WrongGrade(FaultTrigger When, double ForceFactor) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "wrong_grade";

    /// <inheritdoc/>
    internal override string? Mistake => ForceFactor > 0 ? AmountMistake("force factor", ForceFactor) : FormattableString.Invariant($"{Name}: force factor is {ForceFactor}; it must be above 0.");
}

/// <summary>The stock is not held well and rocks in the vise over a stretch of depth: the force swings there, and is as ever in the mean.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DepthShare">Middle of the stretch, as a share of the height, 0..1.</param>
/// <param name="HeightMm">How high it is, mm.</param>
/// <param name="Swing">Swing of cutting force either way, as a share.</param>
/// <param name="WaveMm">Depth from one peak to the next, mm; 1.5 at least, which the cut's path can still follow.</param>
public sealed record LooseStock(FaultTrigger When, double DepthShare, double HeightMm, double Swing, double WaveMm = 5) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "loose_stock";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare) ?? AmountMistake("height", HeightMm) ?? ShareMistake("swing", Swing)
        ?? (WaveMm >= 1.5 ? AmountMistake("wave", WaveMm) : FormattableString.Invariant($"{Name}: wave is {WaveMm} mm; it must be 1.5 mm at least."));
}

/// <summary>The blade breaks: load falls to the bare motor's while the head goes on down, until the controller notices.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DepthShare">Depth at which it breaks, as a share of the height.</param>
/// <param name="NoticedAfterS">Until the controller stops, s.</param>
public sealed record BladeBreak(FaultTrigger When, double DepthShare, double NoticedAfterS = 3) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "blade_break";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare) ?? AmountMistake("time until it is noticed", NoticedAfterS);
}

/// <summary>The blade is caught: load goes up, blade and head stand still, until the motor protection trips.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DepthShare">Depth at which it stalls, as a share of the height.</param>
/// <param name="TripAfterS">Until the motor protection trips, s.</param>
/// <param name="RatedShare">Load while stalled, as a multiple of the rated power.</param>
public sealed record Stall(FaultTrigger When, double DepthShare, double TripAfterS = 4, double RatedShare = 1.6) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "stall";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare) ?? AmountMistake("time until it trips", TripAfterS) ?? AmountMistake("load", RatedShare);
}

/// <summary>The head stops in the cut for a while, and then goes on.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DepthShare">Depth at which it stops, as a share of the height.</param>
/// <param name="HoldS">How long, s.</param>
/// <param name="BladeStops">Whether the blade is stopped meanwhile, and started again in the stock.</param>
public sealed record FeedHold(FaultTrigger When, double DepthShare, double HoldS, bool BladeStops = false) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "feed_hold";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare) ?? AmountMistake("time", HoldS);
}

/// <summary>The emergency stop is pressed in the cut: everything stops at once, and the head is raised by hand later.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DepthShare">Depth at which it is pressed, as a share of the height.</param>
/// <param name="ClearedAfterS">Until it is reset and the head is raised, s.</param>
public sealed record EmergencyStop(FaultTrigger When, double DepthShare, double ClearedAfterS = 60) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "emergency_stop";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare) ?? AmountMistake("time until it is cleared", ClearedAfterS);
}

/// <summary>A cut that ends short of breakthrough on purpose, as for a notch; the head retracts in order.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DepthShare">Depth of the notch, as a share of the height.</param>
/// <param name="Counts">Whether the part counter counts it.</param>
public sealed record PartialCut(FaultTrigger When, double DepthShare, bool Counts = false) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "partial_cut";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare);
}

/// <summary>No stock in the vise: the whole stroke runs in air, and the controller counts it.</summary>
/// <param name="When">When it holds.</param>
public sealed record NoStock(FaultTrigger When) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "no_stock";
}

/// <summary>A signal keeps the value it had at a moment of the first cycle.</summary>
/// <param name="When">When it holds.</param>
/// <param name="Signal">The signal.</param>
/// <param name="CycleShare">The moment, as a share of the first cycle, 0..1.</param>
public sealed record StuckSignal(FaultTrigger When, Signal Signal, double CycleShare = 0.5) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "stuck_signal";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("share of the cycle", CycleShare);
}

/// <summary>The controller restarts: it does not answer for a while, and its part counter begins again at 0.</summary>
/// <param name="When">When it holds.</param>
/// <param name="DownS">How long it does not answer, s.</param>
/// <param name="DepthShare">In the cut, at this share of the height, which gives the cut up; null: in the wait before the cycle.</param>
public sealed record ControllerRestart(FaultTrigger When, double DownS = 20, double? DepthShare = null) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "controller_restart";

    /// <inheritdoc/>
    internal override string? Mistake => ShareMistake("depth share", DepthShare ?? 0) ?? AmountMistake("time", DownS);
}

/// <summary>The controller names another job than the one that is run.</summary>
/// <param name="When">When it holds.</param>
/// <param name="Job">What it names.</param>
public sealed record WrongJob(FaultTrigger When, string Job) : Fault(When)
{
    /// <inheritdoc/>
    public override string Name => "wrong_job";
}
