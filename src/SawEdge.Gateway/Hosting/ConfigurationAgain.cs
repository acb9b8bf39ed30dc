using Microsoft.Extensions.Logging;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Changes;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Hosting;

/// <summary>What a gateway that runs is to go over to.</summary>
/// <param name="Options">The configuration that holds from now on.</param>
/// <param name="Before">The one that held until now.</param>
/// <param name="Changes">What differs, part by part; empty where only secrets do, or destinations.</param>
internal sealed record ConfigurationChange(GatewayOptions Options, GatewayOptions Before, IReadOnlyList<PartChange> Changes)
{
    /// <summary>Names of the items of a list that differ or are new.</summary>
    public IEnumerable<string> NamesIn(PartList list) => Changes.Where(change => change.List == list && change.Fate != PartFate.Removed).Select(change => change.Name);

    /// <summary>Whether anything differs in some lists.</summary>
    public bool IsAbout(params ReadOnlySpan<PartList> lists)
    {
        foreach (var list in lists)
        {
            if (Changes.Any(change => change.List == list))
                return true;
        }

        return false;
    }
}

/// <summary>
/// Follows the configuration file while the gateway runs: has what changed and is without mistakes taken over, and tells it part by part. What is
/// wrong is said once with its place, and once more when it is mended; what only a start takes over is named once.
/// </summary>
/// <param name="configuration">The file.</param>
/// <param name="takeOver">Goes over to a change.</param>
/// <param name="time">The clock of the looks.</param>
/// <param name="logger">Where it speaks.</param>
/// <param name="mayChange">Whether anything may be changed now, or null: always. While the disk refuses, a saw that is stopped could not store what is open.</param>
internal sealed class ConfigurationAgain(WatchedConfiguration configuration, Func<ConfigurationChange, CancellationToken, Task> takeOver, TimeProvider time, ILogger logger, Func<bool>? mayChange = null)
{
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(2);

    private GatewayOptions _running = configuration.Start.Options!;
    private SourceNode _source = configuration.Start.Source!;
    private string? _wrong;
    private string _later = "";

    /// <summary>Looks until cancelled.</summary>
    /// <exception cref="OperationCanceledException">Cancelled.</exception>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using var look = new PeriodicTimer(LookEvery, time);
        while (await look.WaitForNextTickAsync(cancellation))
        {
            if (mayChange?.Invoke() != false && configuration.LookAgain() is { } loaded)
                await TakeAsync(loaded, cancellation);
        }
    }

    private async Task TakeAsync(LoadedConfiguration loaded, CancellationToken cancellation)
    {
        var merged = ConfigurationMerge.Run(_source, loaded, configuration.Read);
        SayMistakes(loaded, merged);
        if (merged is null)
        {
            if (!loaded.Errors.Any())
                HostingLog.ForNextStart(logger, configuration.Path, "so much that belongs together");
            return;
        }

        var changes = ConfigurationDiff.Of(_source, merged.Source);
        foreach (var change in changes)
            HostingLog.PartTaken(logger, configuration.Path, change.Part, change.Told);
        SayLater(merged);
        var before = _running;

        // The catalogue is read once: all saws go by the same.
        (_running, _source) = (merged.Options with { Catalogue = before.Catalogue }, merged.Source);
        await takeOver(new ConfigurationChange(_running, before, changes), cancellation);
    }

    private void SayMistakes(LoadedConfiguration loaded, MergedConfiguration? merged)
    {
        if (loaded.Errors.FirstOrDefault() is not { } first)
        {
            if (_wrong is not null)
                HostingLog.ConfigurationGoodAgain(logger, configuration.Path);
            _wrong = null;
            return;
        }

        var what = merged is null ? "Nothing of it is taken over, everything goes on as configured before"
            : merged.Kept.Count == 0 ? "What it is about stays as it was, the rest is taken over"
            : $"As before stays: {string.Join(", ", merged.Kept)}; the rest is taken over";
        var wrong = $"{first.Path} {first.Message} {loaded.Errors.Count()} {what}";
        if (wrong != _wrong)
            HostingLog.ConfigurationNotTaken(logger, configuration.Path, first.ToString(), loaded.Errors.Count(), what);
        _wrong = wrong;
    }

    private void SayLater(MergedConfiguration merged)
    {
        var later = string.Join(", ", merged.ForNextStart);
        if (later != _later && later.Length > 0)
            HostingLog.ForNextStart(logger, configuration.Path, later);
        _later = later;
    }
}
