using System.Diagnostics.CodeAnalysis;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Blades;
using SawEdge.Gateway.Configuration;

namespace SawEdge.Gateway.Api;

/// <summary>Looking at blades.</summary>
internal static class BladeReadEndpoints
{
    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context)
    {
        api.MapGet("/blades", (HttpRequest request) =>
            new QueryReader(request.Query, context).Problem() ?? ApiAnswer.Live(new { Items = context.Options.Saws.Select(saw => View(saw, Blades(context, saw))) }));
        api.MapGet("/blades/{saw}", async (string saw, HttpRequest request, CancellationToken cancellation) =>
        {
            var query = new QueryReader(request.Query, context);
            var wanted = query.Text("blade");
            if (query.Problem() is { } problem)
                return problem;
            if (context.Options.Saws.FirstOrDefault(known => known.Name == RouteText.Of(saw)) is not { } options)
                return ApiProblem.NotFound($"There is no saw {QueryReader.Quoted(RouteText.Of(saw))} here; the saws are {string.Join(", ", context.Options.Saws.Select(known => known.Name))}.");
            var accounts = Blades(context, options);
            var account = wanted is null ? LastOf(accounts) : accounts.LastOrDefault(known => known.Blade == wanted);
            if (wanted is not null && account is null)
                return ApiProblem.NotFound($"{options.Name} has no blade {QueryReader.Quoted(wanted)}; its blades are {(accounts.Count == 0 ? "not known yet" : string.Join(", ", accounts.Select(known => known.Blade.Length > 0 ? known.Blade : "one without a name")))}.");
            var (book, _) = await context.Reader.BladeEntriesAsync(options.Name, cancellation);
            return ApiAnswer.Live(BladeDetail.Of(View(options, accounts, account), accounts, account, book));
        });
    }

    private static IReadOnlyList<BladeAccount> Blades(ApiContext context, SawOptions saw) => context.Live?.Blades(saw.Name) ?? [];

    private static BladeView View(SawOptions saw, IReadOnlyList<BladeAccount> accounts) => View(saw, accounts, LastOf(accounts));

    private static BladeAccount? LastOf(IReadOnlyList<BladeAccount> accounts) => accounts.Count > 0 ? accounts[^1] : null;

    private static BladeView View(SawOptions saw, IReadOnlyList<BladeAccount> accounts, BladeAccount? account) => new()
    {
        Saw = saw.Name,
        Blade = Known.Text(account?.Blade) ?? (account is null ? saw.Blade : null),
        IsOnSaw = account is not null && ReferenceEquals(account, accounts[^1]),
        Origin = account?.Origin,
        Since = account?.FirstCutAt,
        LastCutAt = account?.LastCutAt,
        SeenNew = account?.SeenNew,
        AreaM2 = Known.Number((account?.AreaCm2 ?? double.NaN) / 10_000, 4),
        Cuts = account?.Cuts,
        Wear = account?.Forecast is { } forecast ? WearView.Of(forecast) : null,
        Proposed = [.. accounts.Where(known => known.Origin == BladeOrigin.Proposed).Select(known => new ProposedChange(known.FirstCutAt, Known.Text(known.Blade)))],
    };
}

/// <summary>A blade of a saw; null where something is not known.</summary>
internal record BladeView
{
    public required string Saw { get; init; }

    public string? Blade { get; init; }

    public bool IsOnSaw { get; init; }

    public BladeOrigin? Origin { get; init; }

    public DateTimeOffset? Since { get; init; }

    public DateTimeOffset? LastCutAt { get; init; }

    /// <summary>Whether its life was seen from its beginning: then area and cuts are all of it.</summary>
    public bool? SeenNew { get; init; }

    public double? AreaM2 { get; init; }

    public long? Cuts { get; init; }

    public WearView? Wear { get; init; }

    public required IReadOnlyList<ProposedChange> Proposed { get; init; }
}

/// <summary>A change of the blade that nobody entered.</summary>
internal sealed record ProposedChange(DateTimeOffset At, string? Blade);

/// <summary>How far a blade is worn: rises are shares of its specific energy when it was new.</summary>
internal sealed record WearView(double Rise, double DullRise, double AreaM2, double? AreaLeftM2, double? LowM2, double? HighM2, double? CutsLeft, bool IsDue, string? Caution)
{
    /// <summary>The view of a forecast.</summary>
    public static WearView Of(WearForecast forecast) => new(
        forecast.Rise, forecast.DullRise, forecast.AreaM2, forecast.AreaLeftM2, forecast.LowM2, forecast.HighM2, forecast.CutsLeft, forecast.IsDue,
        forecast.IsDue ? "Change it soon. Stop, isolate, lock out and tag out by the plant's procedure before reaching for it." : null);
}

/// <summary>A blade of a saw with its life.</summary>
internal sealed record BladeDetail : BladeView
{
    [SetsRequiredMembers]
    private BladeDetail(BladeView view)
        : base(view)
    {
    }

    /// <summary>Area cut, m2, and rise of specific energy there, a share.</summary>
    public IReadOnlyList<double[]> Points { get; private init; } = [];

    /// <summary>The way it goes on: from where it is to where it will be dull; null where there is no forecast.</summary>
    public IReadOnlyList<double[]>? Line { get; private init; }

    /// <summary>The blades that were on the saw, the latest first.</summary>
    public IReadOnlyList<BladeChange> Changes { get; private init; } = [];

    /// <summary>What people entered, the latest first.</summary>
    public IReadOnlyList<BladeEntryView> Entries { get; private init; } = [];

    /// <summary>Puts it together.</summary>
    public static BladeDetail Of(BladeView view, IReadOnlyList<BladeAccount> accounts, BladeAccount? account, BladeBook book) => new(view)
    {
        Points = account?.Reference is { } reference ? [.. account.Wear.Select(point => new[] { Math.Round(point.AreaM2, 4), Math.Round(Math.Exp(point.Residual - reference) - 1, 4) })] : [],
        Line = account?.Forecast is { } forecast ? LineOf(forecast) : null,
        Changes = [.. accounts.Reverse().Select(known => new BladeChange(Known.Text(known.Blade), known.FirstCutAt, known.LastCutAt, known.Origin, known.Cuts, Known.Number((known.AreaCm2 ?? double.NaN) / 10_000, 4)))],
        Entries = [.. book.Entries.Reverse().Select(entry => new BladeEntryView(entry.Id, entry.At, entry.Kind, Known.Text(entry.Blade), Known.Text(entry.Note)))],
    };

    // ln(specific energy) rises in a straight line over the area: drawn from where the blade is to where it is dull, or as far again as it has come.
    private static IReadOnlyList<double[]> LineOf(WearForecast forecast)
    {
        var ahead = forecast.AreaLeftM2 is { } left && left > 0 ? left : forecast.AreaM2;
        var steps = Enumerable.Range(0, 9).Select(i => i / 8.0 * ahead);
        return [.. steps.Select(area => new[] { Math.Round(forecast.AreaM2 + area, 4), Math.Round(((1 + forecast.Rise) * Math.Exp(forecast.SlopePerM2 * area)) - 1, 4) })];
    }
}

/// <summary>A blade that was on a saw.</summary>
internal sealed record BladeChange(string? Blade, DateTimeOffset FirstCutAt, DateTimeOffset LastCutAt, BladeOrigin Origin, long Cuts, double? AreaM2);

/// <summary>What a person entered about blades.</summary>
internal sealed record BladeEntryView(long Id, DateTimeOffset At, BladeEntryKind Kind, string? Blade, string? Note);
