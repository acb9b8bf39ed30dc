using System.Globalization;
using SawEdge.Core.Blades;
using SawEdge.Gateway.Commands.Reports;

using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Commands.Blades;

/// <summary>The blades of each saw, for people.</summary>
internal sealed class BladeListText(TextPage page, MomentText moments, DisplayUnits units)
{
    // Two saws that name the same blade this close together have one entry wrong.
    private static readonly TimeSpan Within = TimeSpan.FromHours(24);

    private const string Indent = "    ";

    /// <summary>Prints.</summary>
    /// <param name="shown">The saws that are printed.</param>
    /// <param name="all">Every saw, to find blades that are on two.</param>
    public void Write(IReadOnlyList<StoredBlades> shown, IReadOnlyList<StoredBlades> all)
    {
        foreach (var (index, saw) in shown.Index())
        {
            if (index > 0)
                page.Line("");
            page.Line(saw.Saw);
            if (saw.IsStale)
                page.Wrapped("  ", "There are entries that are not taken over yet; a running gateway does it within seconds, otherwise its next start.");
            if (saw.Accounts.Count == 0)
                page.Line("  no blade is known yet: none has cut since the load score began");
            foreach (var (place, blade) in saw.Accounts.Index().Reverse())
                Write(saw, blade, place == saw.Accounts.Count - 1, all);
            foreach (var entry in saw.Entries.Entries.Where(entry => entry.Kind != BladeEntryKind.Retire))
                Write(entry);
        }
    }

    /// <summary>How it is known that a blade is on the saw.</summary>
    public static string Words(BladeOrigin origin) => origin switch
    {
        BladeOrigin.Controller => "named by the controller",
        BladeOrigin.Operator => "entered by a person",
        BladeOrigin.Configured => "named by the configuration",
        BladeOrigin.Proposed => "proposed",
        _ => "was on the saw when watching began",
    };

    /// <summary>What a blade has left, in words; empty where nothing is known.</summary>
    public static string Left(WearForecast forecast, DisplayUnits units)
    {
        if (forecast.AreaLeftM2 is not { } left)
            return "no end in sight: it does not get duller";
        var interval = (forecast.LowM2, forecast.HighM2) switch
        {
            ({ } low, { } high) => $" ({Area(low, units)} to {Area(high, units)})",
            ({ } low, null) => $" (at least {Area(low, units)})",
            _ => "",
        };
        var cuts = forecast.CutsLeft is { } count ? string.Create(CultureInfo.InvariantCulture, $", about {count:0} cuts like the last one") : "";
        return $"{Area(left, units)} left{interval}{cuts}";
    }

    /// <summary>A share in per cent.</summary>
    public static string Percent(double share) => string.Create(CultureInfo.InvariantCulture, $"{share * 100:0} %");

    private static string Area(double m2, DisplayUnits units) => DisplayText.Text(units, m2, "m2");

    private void Write(StoredBlades saw, BladeAccount blade, bool isOn, IReadOnlyList<StoredBlades> all)
    {
        var name = blade.Blade.Length > 0 ? blade.Blade : "(no name)";
        var retired = saw.Entries.IsRetired(blade.Blade, DateTimeOffset.MaxValue) ? "; retired" : "";
        page.Wrapped($"  {name,-18} ", isOn
            ? $"on the saw since {moments.Of(blade.FirstCutAt)}, {Words(blade.Origin)}{retired}"
            : $"{moments.Of(blade.FirstCutAt)} to {moments.Of(blade.LastCutAt)}, {Words(blade.Origin)}{retired}");
        var area = blade.AreaCm2 is { } cm2 ? Area(cm2 / 10_000, units) : "area not known, cuts of unknown section were among them";
        page.Wrapped(Indent, string.Create(CultureInfo.InvariantCulture, $"{blade.Cuts} cuts, {area}{(blade.SeenNew ? "" : " while it was watched; it was not new then")}"));
        if (blade.Forecast is { } forecast)
        {
            page.Wrapped(Indent, $"specific energy {Percent(Math.Abs(forecast.Rise))} {(forecast.Rise < 0 ? "below" : "above")} its beginning (dull at {Percent(forecast.DullRise)}); {Left(forecast, units)}");
            if (isOn && forecast.IsDue)
                page.Wrapped(Indent, "DUE: change it soon. Stop, isolate, lock out and tag out before reaching for it.");
        }

        foreach (var other in all.Where(other => other.Saw != saw.Saw && blade.Blade.Length > 0 && other.Accounts.Any(account => account.Blade == blade.Blade && Overlap(account, blade))))
            page.Wrapped(Indent, $"ALSO ON {other.Saw} at the same time: a blade is on one saw at a time, so one of the two is named wrong; correct it.");
        if (blade.Origin == BladeOrigin.Proposed)
            Propose(saw.Saw, blade);
    }

    private void Propose(string saw, BladeAccount blade)
    {
        var at = $"sawedge blade correct {Quoted(saw)} --at \"{moments.Of(blade.FirstCutAt)}\"";
        page.Wrapped(Indent, "PROPOSED: specific energy fell after a stop, as it does with a new blade; nobody entered one.");
        page.Line($"{Indent}to confirm:  {at} --blade NAME");
        page.Line($"{Indent}it was then: {at} --to TIME");
        page.Line($"{Indent}to deny:     {at} --none");
    }

    private void Write(BladeEntry entry)
    {
        var what = entry.Kind == BladeEntryKind.NoChange ? "no blade was changed" : $"changed to {entry.Blade}";
        page.Wrapped("  entered: ", $"{moments.Of(entry.At)} {what}{(entry.Note.Length > 0 ? $" ({entry.Note})" : "")}");
    }

    private static bool Overlap(BladeAccount one, BladeAccount other) => one.FirstCutAt - Within <= other.LastCutAt && other.FirstCutAt - Within <= one.LastCutAt;

    /// <summary>A name as a shell takes it for one word.</summary>
    internal static string Quoted(string name) => name.Contains(' ', StringComparison.Ordinal) ? $"\"{name}\"" : name;
}
