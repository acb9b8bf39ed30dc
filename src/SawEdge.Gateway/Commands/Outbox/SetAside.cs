using System.Globalization;
using SawEdge.Core.Alarms;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Commands.Alarms;
using SawEdge.Gateway.Commands.Reports;
using SawEdge.Gateway.Configuration.Reading;
using SawEdge.Gateway.History;
using AlarmJson = SawEdge.Gateway.Commands.Alarms.AlarmJson;

namespace SawEdge.Gateway.Commands.Outbox;

/// <summary><c>outbox list | retry | drop</c>: what destinations refused for good, and what is to become of it.</summary>
internal sealed class SetAside
{
    private const int MostListed = 100;

    // A running gateway writes between two of these: none takes long.
    private const int MostInTransaction = 2000;

    // A server may repeat the whole point in its answer.
    private const int LongestReason = 1000;

    private readonly string _folder;
    private readonly List<(string Destination, IReadOnlyList<StoredRefusal> Entries)> _chosen = [];

    private SetAside(string folder) => _folder = folder;

    private long Count => _chosen.Sum(one => (long)one.Entries.Count);

    /// <summary>Reads what is meant.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="what">A destination or none, then numbers of entries or none.</param>
    /// <param name="cancellation">Breaks off.</param>
    /// <exception cref="CommandException">There is no such destination, or none has set that aside.</exception>
    public static async Task<SetAside> ReadAsync(NamedFolder folder, IReadOnlyList<string> what, CancellationToken cancellation)
    {
        var reader = folder.Open();
        var known = (await KnownDestinations.FindAsync(folder, reader, cancellation)).Where(destination => destination.Kind != DestinationKind.DailyFiles).ToList();
        var named = what.Count > 0 && (!IsNumber(what[0]) || known.Exists(destination => destination.Name == what[0])) ? Find(folder, known, what[0]) : null;
        var numbers = what.Skip(named is null ? 0 : 1).Select(written => IsNumber(written) ? written : throw new CommandException($"{Words.Quoted(written)} is no number of an entry; 'sawedge outbox list' shows them.")).Distinct(StringComparer.Ordinal).ToList();
        var aside = new SetAside(folder.Folder);
        foreach (var destination in named is null ? known : [named])
        {
            var all = await reader.RefusalsAsync(destination.Name, int.MaxValue, cancellation);
            aside._chosen.Add((destination.Name, numbers.Count == 0 ? all : [.. all.Where(entry => numbers.Contains(Key(destination.Name, entry)))]));
        }

        foreach (var number in numbers)
        {
            if (!aside._chosen.Exists(one => one.Entries.Any(entry => Key(one.Destination, entry) == number)))
                throw new CommandException(FormattableString.Invariant($"{named?.Name ?? "No destination"} has set {(named is null ? "anything" : "nothing")} aside under number {number}; 'sawedge outbox list{(named is null ? "" : " " + named.Name)}' shows what there is."));
        }

        return aside;
    }

    /// <summary>Prints it.</summary>
    public void Write(TextPage page, MomentText moments)
    {
        if (_chosen.Count == 0)
            page.Line("There is no destination that could have set anything aside.");
        foreach (var (destination, entries) in _chosen)
        {
            if (entries.Count == 0)
            {
                page.Wrapped("", $"{destination}: nothing is set aside.");
                continue;
            }

            page.Wrapped("", $"{destination}: {AlarmText.Count(entries.Count, "point")} set aside");
            foreach (var entry in entries.Take(MostListed))
            {
                page.Wrapped($"  {Key(destination, entry),6}  ", $"{moments.Of(entry.At)} {About(entry)}");
                page.Wrapped("          ", Clean(entry.Reason));
            }

            if (entries.Count > MostListed)
                page.Line(FormattableString.Invariant($"          and {entries.Count - MostListed} more"));
            page.Wrapped("  ", $"'sawedge outbox retry {destination}' sends them again, 'drop' in its place forgets them; single ones by their numbers.");
        }
    }

    /// <summary>The same for programs.</summary>
    public string Json() => AlarmJson.Text(json =>
    {
        json.WriteStartObject();
        json.WriteStartArray("destinations");
        foreach (var (destination, entries) in _chosen)
        {
            json.WriteStartObject();
            json.WriteString("name", destination);
            json.WriteStartArray("set_aside");
            foreach (var entry in entries)
            {
                json.WriteStartObject();
                json.WriteNumber("number", entry.Sequence);
                AlarmJson.Words(json, "lane", Lane(destination, entry));
                AlarmJson.Moment(json, "at", entry.At);
                AlarmJson.Words(json, "cycle_id", entry.CycleId);
                AlarmJson.Words(json, "saw", entry.Saw);
                AlarmJson.Moment(json, "from", entry.From);
                AlarmJson.Words(json, "rule", entry.AlarmEvent?.Event.Rule);
                AlarmJson.Words(json, "subject", entry.AlarmEvent?.Event.Subject.Name);
                AlarmJson.Words(json, "event", entry.AlarmEvent?.Event.Kind.ToName());
                json.WriteString("reason", Clean(entry.Reason));
                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteEndObject();
    });

    /// <summary>Sends it again.</summary>
    /// <exception cref="HistoryException">It is not set aside any more, or the history cannot be written.</exception>
    public void Retry(TextWriter output, bool isJson, DateTimeOffset now)
    {
        InParts((destination, numbers) => RefusedRows.Retry(_folder, destination, numbers, now));
        var isRunning = FolderLock.IsHeld(_folder);
        Tell(output, isJson, "retried", count => $"{count} put at the end of what waits. {(isRunning ? "The gateway that runs there sends them within half a minute." : "No gateway runs on this folder now; they are sent at its next start.")}");
    }

    /// <summary>Forgets it.</summary>
    /// <param name="output">Where to print.</param>
    /// <param name="isJson">Whether for programs.</param>
    /// <param name="ask">Asks back; null where nobody can be asked.</param>
    /// <exception cref="CommandException">It is not confirmed.</exception>
    /// <exception cref="HistoryException">It is not set aside any more, or the history cannot be written.</exception>
    public void Drop(TextWriter output, bool isJson, Func<string, string?>? ask)
    {
        var what = $"{AlarmText.Count(Count, "point")} of {string.Join(", ", Any.Select(one => one.Destination))}";
        if (Count > 0 && ask is null)
            throw new CommandException($"{what} would never be sent; add --yes to drop {(Count == 1 ? "it" : "them")}. Cycles and alarms themselves stay in the history.");
        if (Count > 0 && ask!($"{what} will never be sent. Drop {(Count == 1 ? "it" : "them")}? (yes/no) ")?.Trim().ToUpperInvariant() is not ("Y" or "YES"))
            throw new CommandException("Nothing was dropped.");
        InParts((destination, numbers) => RefusedRows.Drop(_folder, destination, numbers));
        Tell(output, isJson, "dropped", count => $"{count} dropped. Cycles and alarms themselves stay in the history.");
    }

    /// <summary>The words of a server, without what would do harm in a terminal.</summary>
    public static string Clean(string reason) => ControllerText.CleanUpTo(reason, LongestReason);

    private IEnumerable<(string Destination, IReadOnlyList<StoredRefusal> Entries)> Any => _chosen.Where(one => one.Entries.Count > 0);

    private void InParts(Action<string, long[]> write)
    {
        foreach (var (_, entries) in Any)
        {
            foreach (var lane in entries.GroupBy(entry => entry.Consumer, entry => entry.Sequence, StringComparer.Ordinal))
            {
                foreach (var part in lane.Chunk(MostInTransaction))
                    write(lane.Key, part);
            }
        }
    }

    private void Tell(TextWriter output, bool isJson, string done, Func<string, string> words)
    {
        if (isJson)
        {
            output.WriteLine(AlarmJson.Text(json =>
            {
                json.WriteStartObject();
                json.WriteStartArray("destinations");
                foreach (var (destination, entries) in Any)
                {
                    json.WriteStartObject();
                    json.WriteString("name", destination);
                    json.WriteStartArray(done);
                    foreach (var entry in entries)
                    {
                        if (Lane(destination, entry) is null)
                            json.WriteNumberValue(entry.Sequence);
                        else
                            json.WriteStringValue(Key(destination, entry));
                    }

                    json.WriteEndArray();
                    json.WriteEndObject();
                }

                json.WriteEndArray();
                json.WriteEndObject();
            }));
            return;
        }

        var page = new TextPage(output);
        if (Count == 0)
            page.Line("Nothing is set aside.");
        foreach (var (destination, entries) in Any)
            page.Wrapped("", $"{destination}: {words(AlarmText.Count(entries.Count, "point"))}");
    }

    // With the configuration at hand a channel is known as such, and has commands of its own.
    private static KnownDestination Find(NamedFolder folder, IReadOnlyList<KnownDestination> known, string name) =>
        folder.Options?.Alarms.Channels.Any(channel => channel.Name == name) == true
            ? throw new CommandException($"{Words.Quoted(name)} is a channel; 'sawedge alarm undelivered list {name}' shows what it has set aside.")
            : KnownDestinations.Find(known, name);

    // Numbers of the journal are written alone, those of other lanes behind the lane.
    private static bool IsNumber(string written) => long.TryParse(written.AsSpan(written.LastIndexOf('/') + 1), NumberStyles.None, CultureInfo.InvariantCulture, out _);

    private static string? Lane(string destination, StoredRefusal entry) => entry.Consumer.Length > destination.Length ? entry.Consumer[(destination.Length + 1)..] : null;

    private static string Key(string destination, StoredRefusal entry) =>
        (Lane(destination, entry) is { } lane ? lane + "/" : "") + entry.Sequence.ToString(CultureInfo.InvariantCulture);

    private static string About(StoredRefusal entry) => entry switch
    {
        { CycleId: { } cycle } => entry.Consumer.EndsWith(Lanes.Profiles, StringComparison.Ordinal) ? $"profile of cycle {cycle}" : $"cycle {cycle}",
        { Saw: { } saw, From: { } from } => FormattableString.Invariant($"{(entry.Consumer.EndsWith(Lanes.Hours, StringComparison.Ordinal) ? "figures" : "signals")} of {saw} from {from:yyyy-MM-dd HH:mm:ss}Z on"),
        { From: { } at } => FormattableString.Invariant($"the gateway's health at {at:yyyy-MM-dd HH:mm:ss}Z"),
        { AlarmEvent.Event: { Alarm: { } alarm } happened } => FormattableString.Invariant($"{happened.Kind.ToName()} of alarm #{alarm.Number} ({happened.Subject}: {happened.Rule})"),
        { AlarmEvent.Event: { } happened } => $"{happened.Kind.ToName()} of {happened.Subject}: {happened.Rule}",
        _ => "something that the history does not hold any more",
    };
}
