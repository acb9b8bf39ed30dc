using System.CommandLine;
using SawEdge.Core.Oee;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Comparing;

/// <summary>Which cuts are looked at.</summary>
/// <param name="Saws">The saws; empty: all.</param>
/// <param name="Material">The material by the catalogue's name for it; null: all.</param>
/// <param name="Blade">The blade, or the type of blades; null: all.</param>
/// <param name="Period">When; null: ever.</param>
internal sealed record CutChoice(IReadOnlyList<string> Saws, string? Material, BladeChoice? Blade, Period? Period)
{
    /// <summary>What else a cut must be, asked before its time is looked at.</summary>
    public Func<TimedCut, bool> Fits { get; init; } = static _ => true;
}

/// <summary>A blade by its identity, or all of a type.</summary>
/// <param name="Written">What a person wrote.</param>
internal sealed record BladeChoice(string Written)
{
    /// <summary>The type, where it can be one. A number alone is the name of a blade, not its pitch.</summary>
    public string? Type { get; } = Written.Any(char.IsAsciiLetter) ? Core.Cutting.Blade.Parse(Written, out _)?.TypeName : null;

    /// <summary>Whether a cut was made with it.</summary>
    public bool Fits(TimedCut cut) => cut.Blade == Written || (Type is not null && cut.BladeType == Type);
}

/// <summary>The options that choose cuts.</summary>
internal sealed class CutChoiceOptions
{
    private readonly Option<string?> _from = new("--from") { Description = $"Only cuts from this time on, {MomentText.Forms}.", HelpName = "TIME" };
    private readonly Option<string?> _to = new("--to") { Description = "Only cuts up to this time; a day, week or month that is named is included.", HelpName = "TIME" };
    private readonly Option<string[]> _saw = new("--saw") { Description = "Only cuts of this saw; may be given several times.", HelpName = "SAW" };
    private readonly Option<string?> _material = new("--material") { Description = "Only cuts of this material, by any of its names.", HelpName = "MATERIAL" };
    private readonly Option<string?> _blade = new("--blade") { Description = "Only cuts with this blade, or with blades of this type, for example \"bimetal 3/4 tpi\".", HelpName = "BLADE" };
    private readonly Option<int> _least = new("--least") { Description = "Cuts without which nothing is said.", HelpName = "CUTS", DefaultValueFactory = _ => DefaultLeast };

    /// <summary>Cuts without which nothing is said, unless a person sets it. Judgement, no source.</summary>
    public const int DefaultLeast = 20;

    /// <summary>Adds the options to a command.</summary>
    /// <param name="command">The command.</param>
    /// <param name="period">Whether a time can be chosen.</param>
    /// <param name="saw">Whether saws can be chosen.</param>
    /// <param name="blade">Whether a blade can be chosen.</param>
    public void AddTo(Command command, bool period = true, bool saw = true, bool blade = true)
    {
        if (period)
        {
            command.Options.Add(_from);
            command.Options.Add(_to);
        }

        if (saw)
            command.Options.Add(_saw);
        command.Options.Add(_material);
        if (blade)
            command.Options.Add(_blade);
        command.Options.Add(_least);
    }

    /// <summary>Cuts without which nothing is said.</summary>
    /// <exception cref="CommandException">It is none.</exception>
    public int Least(ParseResult arguments) => arguments.GetValue(_least) is >= 2 and <= 1_000_000 and var least
        ? least
        : throw new CommandException($"--least {arguments.GetValue(_least)} is no number of cuts to go by; write 2 to 1000000.");

    /// <summary>Reads what was chosen.</summary>
    /// <exception cref="CommandException">A saw is not known, or a time is none.</exception>
    public async Task<CutChoice> ReadAsync(ParseResult arguments, NamedFolder folder, HistoryReader reader, MomentText moments, CancellationToken cancellation)
    {
        var saws = arguments.GetValue(_saw) ?? [];
        foreach (var saw in saws)
            await folder.CheckSawAsync(reader, saw, cancellation);
        var material = arguments.GetValue(_material) is { } written ? folder.Materials().Find(written)?.Name ?? written : null;
        return new CutChoice([.. saws.Distinct(StringComparer.Ordinal)], material, arguments.GetValue(_blade) is { } blade ? new BladeChoice(blade) : null, Between(arguments, moments));
    }

    private Period? Between(ParseResult arguments, MomentText moments) => (arguments.GetValue(_from), arguments.GetValue(_to)) switch
    {
        (null, null) => null,
        ({ } from, null) => moments.ParsePeriod("--from", $"since {from}"),
        (null, { } to) => new Period(DateTimeOffset.UnixEpoch, moments.ParseEnd("--to", to)),
        ({ } from, { } to) => moments.Between("--from, --to:", from, to),
    };
}
