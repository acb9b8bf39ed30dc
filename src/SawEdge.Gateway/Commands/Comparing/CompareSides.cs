using SawEdge.Core.Comparison;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>What is compared: which cut belongs to which side, and what else must be alike.</summary>
internal abstract record CompareSides(ComparedSide First, ComparedSide Second)
{
    /// <summary>Whether the blades of a side stand for others of their type.</summary>
    public virtual bool IsByBlade => false;

    /// <summary>Whether a cut belongs to the second side, or to the first; null: to neither.</summary>
    public abstract bool? SideOf(TimedCut cut);

    /// <summary>The kind of a cut without what the sides differ in.</summary>
    public virtual CutKind KindOf(TimedCut cut) => cut.Kind;

    /// <summary>Limits what is read to what can belong to a side.</summary>
    public virtual CutChoice Within(CutChoice choice) => choice;

    /// <summary>Sees to it that both sides are known.</summary>
    /// <exception cref="CommandException">One is not.</exception>
    public virtual Task CheckAsync(NamedFolder folder, HistoryReader reader, CancellationToken cancellation) => Task.CompletedTask;

    /// <summary>That a side has no cut at all.</summary>
    /// <param name="seenFirst">Whether the first has one.</param>
    /// <param name="cuts">What was read.</param>
    public virtual CommandException Missing(bool seenFirst, CutTimeReader cuts) =>
        new($"{(seenFirst ? Second : First).Named} has no cut that can be compared{(cuts.Tally.LeftOut.Length > 0 ? $"; left out on both sides: {cuts.Tally.LeftOut}" : "")}.");
}

/// <summary>Two periods; a cut belongs to the one in which its cycle began.</summary>
internal sealed record PeriodSides(ComparedSide First, ComparedSide Second, Period Before, Period After) : CompareSides(First, Second)
{
    /// <summary>Reads two periods.</summary>
    /// <exception cref="CommandException">One is none, or they overlap.</exception>
    public static PeriodSides Read(string first, string second, MomentText moments)
    {
        var (before, after) = (moments.ParsePeriod("the first period", first), moments.ParsePeriod("the second period", second));
        return before.Overlaps(after)
            ? throw new CommandException($"The two periods overlap: {Span(before, moments)} and {Span(after, moments)}; a cut can belong to one only.")
            : new PeriodSides(Named(first), Named(second), before, after);
    }

    /// <inheritdoc/>
    public override bool? SideOf(TimedCut cut) => After.Contains(cut.StartedAt) ? true : Before.Contains(cut.StartedAt) ? false : null;

    /// <inheritdoc/>
    public override CutChoice Within(CutChoice choice) =>
        choice with { Period = new Period(Before.From < After.From ? Before.From : After.From, Before.To > After.To ? Before.To : After.To) };

    private static ComparedSide Named(string written) => new(written.Trim(), Words.Quoted(written.Trim()), IsTime: true);

    private static string Span(Period period, MomentText moments) => $"{moments.Of(period.From)} to {moments.Of(period.To)}";
}

/// <summary>Two blades, or two types of blades.</summary>
internal sealed record BladeSides(BladeChoice Before, BladeChoice After) : CompareSides(Named(Before), Named(After))
{
    private bool _isType;

    public BladeSides(string first, string second)
        : this(new BladeChoice(first), new BladeChoice(second))
    {
    }

    /// <inheritdoc/>
    public override bool IsByBlade => _isType;

    /// <inheritdoc/>
    public override bool? SideOf(TimedCut cut)
    {
        var (first, second) = (Before.Fits(cut), After.Fits(cut));
        return first == second ? null : second;
    }

    /// <inheritdoc/>
    public override CutKind KindOf(TimedCut cut) => cut.Kind with { BladeType = "" };

    /// <inheritdoc/>
    public override Task CheckAsync(NamedFolder folder, HistoryReader reader, CancellationToken cancellation)
    {
        _isType = Before.Type is not null && After.Type is not null;
        return Before.Type is not null && Before.Type == After.Type
            ? throw new CommandException($"{Words.Quoted(Before.Written)} and {Words.Quoted(After.Written)} are the same type of blade, {Before.Type}; name two different ones.")
            : Task.CompletedTask;
    }

    /// <inheritdoc/>
    public override CommandException Missing(bool seenFirst, CutTimeReader cuts)
    {
        var missing = seenFirst ? After : Before;
        return cuts.Blades.Contains(missing.Written) || (missing.Type is not null && cuts.Blades.Contains(missing.Type)) ? base.Missing(seenFirst, cuts) : cuts.NoBlade(missing.Written);
    }

    private static ComparedSide Named(BladeChoice blade) => blade.Type is { } type ? new(type, $"blade type {type}") : new(blade.Written, $"blade {blade.Written}");
}

/// <summary>Two saws.</summary>
internal sealed record SawSides(string Before, string After) : CompareSides(new ComparedSide(Before, $"saw {Before}"), new ComparedSide(After, $"saw {After}"))
{
    /// <inheritdoc/>
    public override bool? SideOf(TimedCut cut) => cut.Kind.Saw == After ? true : cut.Kind.Saw == Before ? false : null;

    /// <inheritdoc/>
    public override CutKind KindOf(TimedCut cut) => cut.Kind with { Saw = "" };

    /// <inheritdoc/>
    public override CutChoice Within(CutChoice choice) => choice with { Saws = [Before, After] };

    /// <inheritdoc/>
    public override async Task CheckAsync(NamedFolder folder, HistoryReader reader, CancellationToken cancellation)
    {
        await folder.CheckSawAsync(reader, Before, cancellation);
        await folder.CheckSawAsync(reader, After, cancellation);
    }
}
