using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Commands.Outbox;

/// <summary>What a destination is.</summary>
internal enum DestinationKind
{
    /// <summary>An InfluxDB server of the configuration.</summary>
    Influx,

    /// <summary>A folder of daily files.</summary>
    DailyFiles,

    /// <summary>Something that the history knows; the configuration does not, or was not read.</summary>
    Other,
}

/// <summary>A destination.</summary>
/// <param name="Name">Its name as a consumer of the journal.</param>
/// <param name="Kind">What it is.</param>
/// <param name="Where">Server and bucket, or the folder; empty where that is not known.</param>
internal sealed record KnownDestination(string Name, DestinationKind Kind, string Where)
{
    /// <summary>What it is sent, as far as the configuration says so.</summary>
    public PointChoice Points { get; init; }
}

/// <summary>The destinations of a configuration, and those that only the history still knows: taken out of it, or called otherwise since.</summary>
internal static class KnownDestinations
{
    // Names of daily files as consumers begin so.
    private const string Files = "files/";

    /// <summary>Finds them, those of the configuration first.</summary>
    public static async Task<IReadOnlyList<KnownDestination>> FindAsync(NamedFolder folder, HistoryReader reader, CancellationToken cancellation)
    {
        var found = new List<KnownDestination>();
        foreach (var influx in folder.Options?.Influx ?? [])
            found.Add(new KnownDestination(influx.Name, DestinationKind.Influx, Where(influx)) { Points = influx.Points });
        foreach (var files in folder.Options?.DailyFiles ?? [])
            found.Add(new KnownDestination(Files + files.Name, DestinationKind.DailyFiles, files.Folder));
        var consumers = await reader.ConsumersAsync(cancellation);
        var channels = folder.Options?.Alarms.Channels.Select(channel => channel.Name).ToHashSet(StringComparer.Ordinal) ?? [];
        foreach (var name in consumers)
        {
            // Lanes have places of their own, which belong to that of their destination.
            var isLane = name.Contains('/', StringComparison.Ordinal) && !name.StartsWith(Files, StringComparison.Ordinal);
            if (!channels.Contains(name) && !isLane && found.TrueForAll(known => known.Name != name))
                found.Add(new KnownDestination(name, name.StartsWith(Files, StringComparison.Ordinal) ? DestinationKind.DailyFiles : DestinationKind.Other, ""));
        }

        return found;
    }

    /// <summary>Finds one.</summary>
    /// <exception cref="CommandException">There is none of that name.</exception>
    public static KnownDestination Find(IReadOnlyList<KnownDestination> known, string name) =>
        known.FirstOrDefault(destination => destination.Name == name) ?? throw None(name, [.. known.Select(destination => destination.Name)]);

    /// <summary>That there is no such destination.</summary>
    public static CommandException None(string name, IReadOnlyList<string> known) =>
        new($"There is no destination {Words.Quoted(name)}; {(known.Count == 0 ? "neither the configuration nor the history has one." : NamedFolder.Hint(name, known))}");

    // Only host and port: an address may hold a password.
    private static string Where(InfluxOptions influx) => $"{influx.Url.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped)}, {(influx.Version1 ? "database" : "bucket")} {influx.Bucket}";
}
