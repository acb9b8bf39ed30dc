using System.Globalization;
using SawEdge.Core.Blades;
using SawEdge.Gateway.Commands.Plots;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.History;

using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Blades;

/// <summary>What is to be corrected, as a person wrote it.</summary>
/// <param name="To">The right time, or null.</param>
/// <param name="Blade">The right blade, or null.</param>
/// <param name="Remove">Whether the entry was a mistake.</param>
/// <param name="None">Whether no blade was changed.</param>
internal sealed record BladeCorrection(string? To, string? Blade, bool Remove, bool None);

/// <summary>What the blade commands do.</summary>
internal sealed class BladeWork(NamedFolder folder, TextPage page, TimeProvider time)
{
    // Clocks of two machines differ a little; more than this ahead is a slip of the pen.
    private static readonly TimeSpan Ahead = TimeSpan.FromMinutes(2);

    private readonly HistoryReader _reader = folder.Open();
    private readonly MomentText _moments = new(time);

    /// <summary>Units of what is printed.</summary>
    public DisplayUnits Units { get; init; }

    /// <summary><c>blade list</c>.</summary>
    public async Task ListAsync(string? saw, CancellationToken cancellation)
    {
        if (saw is not null)
            await folder.CheckSawAsync(_reader, saw, cancellation);
        var all = new List<StoredBlades>();
        foreach (var name in await folder.SawsAsync(_reader, cancellation))
            all.Add(await StoredBlades.ReadAsync(folder, _reader, name, cancellation));
        if (all.Count == 0)
            throw new CommandException($"The history in {folder.Folder} holds no saw yet.");
        new BladeListText(page, _moments, Units).Write([.. all.Where(blades => saw is null || blades.Saw == saw)], all);
    }

    /// <summary><c>blade change</c>.</summary>
    public async Task ChangeAsync(string saw, string? blade, string? at, string note, CancellationToken cancellation)
    {
        var stored = await ReadAsync(saw, cancellation);
        var moment = await MomentAsync(saw, "--at", at, cancellation);
        if (stored.EntryAt(moment) is { Kind: not BladeEntryKind.Retire } there)
            throw new CommandException($"There is an entry of {_moments.Of(there.At)} for {saw} already; change it with 'sawedge blade correct {BladeListText.Quoted(saw)} --at \"{_moments.Of(there.At)}\" ...'.");
        blade = NameOf(saw, blade, moment);
        CheckRetired(stored, blade, moment);
        var done = await new BladeEntering(folder, time).EnterAsync(saw, [], [new BladeEntry(0, saw, moment, BladeEntryKind.Change, blade, note)], cancellation);
        page.Wrapped("", $"{saw}: blade {blade} from {_moments.Of(moment)} on. {done}");
    }

    /// <summary><c>blade correct</c>.</summary>
    public async Task CorrectAsync(string saw, string at, BladeCorrection correction, CancellationToken cancellation)
    {
        var ways = (correction.To is not null || correction.Blade is not null ? 1 : 0) + (correction.Remove ? 1 : 0) + (correction.None ? 1 : 0);
        if (ways != 1)
            throw new CommandException($"{(ways == 0 ? "Nothing is corrected" : "These exclude each other")}: write --to TIME and/or --blade NAME, or --remove, or --none.");
        var stored = await ReadAsync(saw, cancellation);
        var moment = _moments.Parse("--at", at);
        var entry = stored.EntryAt(moment);
        var proposal = entry is null ? stored.ProposalAt(moment) : null;
        if (entry is null && proposal is null)
            throw new CommandException($"There is no entry and no proposal of {_moments.Of(moment)} for {saw}; 'sawedge blade list --saw {BladeListText.Quoted(saw)}' shows them.");
        if (correction.Remove && entry is null)
            throw new CommandException($"The change of {_moments.Of(moment)} was proposed, nobody entered it; write --none where no blade was changed.");
        if (entry is { Kind: BladeEntryKind.Retire } && (correction.None || correction.Blade is not null))
            throw new CommandException($"The entry of {_moments.Of(moment)} retires blade {entry.Blade}; write --to TIME or --remove.");

        IReadOnlyList<BladeEntry> withdraw = entry is null ? [] : [entry];
        var next = correction.Remove ? null : await NextAsync(stored, entry, proposal, correction, cancellation);
        var done = await new BladeEntering(folder, time).EnterAsync(saw, withdraw, next is null ? [] : [next], cancellation);
        page.Wrapped("", $"{saw}: {Words(next)}. {done}");
    }

    /// <summary><c>blade retire</c>.</summary>
    public async Task RetireAsync(string saw, string blade, string? at, string note, CancellationToken cancellation)
    {
        var stored = await ReadAsync(saw, cancellation);
        var moment = await MomentAsync(saw, "--at", at, cancellation);
        var known = stored.Accounts.Select(account => account.Blade).Concat(stored.Entries.Entries.Select(entry => entry.Blade)).Where(name => name.Length > 0).Distinct(StringComparer.Ordinal).ToList();
        if (!known.Contains(blade))
            throw new CommandException($"{saw} has no blade {Configuration.Reading.Words.Quoted(blade)}; {(known.Count == 0 ? "none with a name was on it yet." : NamedFolder.Hint(blade, known))}");
        CheckRetired(stored, blade, DateTimeOffset.MaxValue);
        var done = await new BladeEntering(folder, time).EnterAsync(saw, [], [new BladeEntry(0, saw, moment, BladeEntryKind.Retire, blade, note)], cancellation);
        page.Wrapped("", $"{saw}: blade {blade} is retired from {_moments.Of(moment)} on. {done}");
    }

    /// <summary><c>blade forecast</c>.</summary>
    public async Task ForecastAsync(string saw, string? name, bool ascii, CancellationToken cancellation)
    {
        var stored = await ReadAsync(saw, cancellation);
        var blade = name is null ? (stored.Accounts is [.., var latest] ? latest : null) : stored.Accounts.LastOrDefault(account => account.Blade == name);
        if (blade is null)
        {
            throw new CommandException(name is null || stored.Accounts.Count == 0
                ? $"No blade of {saw} is known yet: none has cut since the load score began."
                : $"{saw} has no blade {Configuration.Reading.Words.Quoted(name)}; {NamedFolder.Hint(name, [.. stored.Accounts.Select(account => account.Blade)])}");
        }

        page.Wrapped("", string.Create(CultureInfo.InvariantCulture, $"{saw}: blade {(blade.Blade.Length > 0 ? blade.Blade : "without a name")}, {BladeListText.Words(blade.Origin)}, first cut {_moments.Of(blade.FirstCutAt)}, {blade.Cuts} cuts"));
        if (blade.Forecast is not { } forecast)
        {
            page.Wrapped("", "Nothing can be said of its wear yet: that needs cuts of known sections with their load, over a stretch of its life.");
            return;
        }

        var factor = Units == DisplayUnits.Metric ? 1 : 10_000 / Configuration.QuantityKind.Area.Unit("ft2")!.Factor;
        var points = blade.Reference is { } reference ? blade.Wear.Select(point => (point.AreaM2 * factor, Math.Exp(point.Residual - reference) - 1)).ToList() : [];
        page.Line("");
        foreach (var line in WearPlot.Lines(points, forecast.DullRise, (forecast.AreaM2 * factor, forecast.Rise), (forecast.AreaM2 + forecast.AreaLeftM2) * factor, Units == DisplayUnits.Metric ? "m2" : "ft2", ascii))
            page.Line(line);
        page.Line("");
        page.Wrapped("", $"After {DisplayText.Text(Units, forecast.AreaM2, "m2")} its specific energy is {BladeListText.Percent(Math.Abs(forecast.Rise))} {(forecast.Rise < 0 ? "below" : "above")} its own beginning; it counts as dull at {BladeListText.Percent(forecast.DullRise)}. {Capital(BladeListText.Left(forecast, Units))}.");
        if (forecast.IsDue)
            page.Wrapped("", "It is due: change it soon. Stop, isolate, lock out and tag out before reaching for it.");
    }

    private async Task<StoredBlades> ReadAsync(string saw, CancellationToken cancellation)
    {
        await folder.CheckSawAsync(_reader, saw, cancellation);
        return await StoredBlades.ReadAsync(folder, _reader, saw, cancellation);
    }

    // To the millisecond, downward: a change is never later than the cut that showed it.
    private static DateTimeOffset Whole(DateTimeOffset moment) => DateTimeOffset.FromUnixTimeMilliseconds(moment.ToUnixTimeMilliseconds());

    private async Task<DateTimeOffset> MomentAsync(string saw, string option, string? written, CancellationToken cancellation)
    {
        // A saw whose clock is ahead, as in the demo, has cuts later than now.
        var last = (await _reader.LastCycleAsync(saw, cancellation: cancellation))?.EndedAt;
        var now = time.GetUtcNow() > last || last is null ? time.GetUtcNow() : last.Value;
        if (written is null)
            return Whole(now);
        var moment = _moments.Parse(option, written);
        if (moment > now + Ahead)
            throw new CommandException($"{option} '{written}' has not come yet; enter a blade when it is on the saw.");
        return Whole(moment);
    }

    private string NameOf(string saw, string? blade, DateTimeOffset moment) => blade switch
    {
        null => $"{saw}-{_moments.Of(moment).Replace("-", "", StringComparison.Ordinal).Replace(":", "", StringComparison.Ordinal).Replace(' ', '-')}",
        "" => throw new CommandException("--blade is empty; write the blade's name, or leave the option out to have one made."),
        _ => blade,
    };

    private void CheckRetired(StoredBlades stored, string blade, DateTimeOffset moment)
    {
        if (stored.Entries.IsRetired(blade, moment))
            throw new CommandException($"Blade {blade} is retired already; where that was a mistake, take the entry of {_moments.Of(stored.Entries.Entries.First(entry => entry.Kind == BladeEntryKind.Retire && entry.Blade == blade).At)} back with 'blade correct ... --remove'.");
    }

    private async Task<BladeEntry> NextAsync(StoredBlades stored, BladeEntry? entry, BladeAccount? proposal, BladeCorrection correction, CancellationToken cancellation)
    {
        var old = entry?.At ?? Whole(proposal!.FirstCutAt);
        if (correction.None)
            return new BladeEntry(0, stored.Saw, old, BladeEntryKind.NoChange, "");
        var moment = correction.To is null ? old : await MomentAsync(stored.Saw, "--to", correction.To, cancellation);
        if (entry is { Kind: BladeEntryKind.Retire })
            return entry with { Id = 0, At = moment };
        var blade = NameOf(stored.Saw, correction.Blade ?? (entry is { Kind: BladeEntryKind.Change } ? entry.Blade : null), moment);
        CheckRetired(stored, blade, moment);
        return new BladeEntry(0, stored.Saw, moment, BladeEntryKind.Change, blade, entry?.Note ?? "");
    }

    private string Words(BladeEntry? entry) => entry switch
    {
        null => "the entry is withdrawn",
        { Kind: BladeEntryKind.NoChange } => $"no blade was changed around {_moments.Of(entry.At)}",
        { Kind: BladeEntryKind.Retire } => $"blade {entry.Blade} is retired from {_moments.Of(entry.At)} on",
        _ => $"blade {entry.Blade} from {_moments.Of(entry.At)} on",
    };

    private static string Capital(string words) => words.Length == 0 ? words : char.ToUpperInvariant(words[0]) + words[1..];
}
