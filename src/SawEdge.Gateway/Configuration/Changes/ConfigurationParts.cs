using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Changes;

/// <summary>A list of the configuration whose items are parts of their own, found again by their names.</summary>
/// <param name="Path">Its path.</param>
/// <param name="Word">What an item is, in words.</param>
internal sealed record PartList(string Path, string Word);

/// <summary>The parts of a configuration that can be taken over while the gateway runs, and where they stand.</summary>
internal static class ConfigurationParts
{
    /// <summary>The member that names an item.</summary>
    public const string Name = "name";

    /// <summary>The object that rules and contacts stand in.</summary>
    public const string Alarms = "alarms";

    /// <summary>When the plant works.</summary>
    public const string Calendar = "calendar";

    /// <summary>The levels of the log, which tell by themselves what became of them.</summary>
    public const string Logging = "logging";

    /// <summary>The job list.</summary>
    public const string JobsFile = "jobsFile";

    /// <summary>The program's own rules that do not hold.</summary>
    public const string WithoutRules = "alarms.withoutRules";

    /// <summary>The saws.</summary>
    public static PartList Saws { get; } = new("saws", "saw");

    /// <summary>What Modbus saws are read from.</summary>
    public static PartList Devices { get; } = new("devices", "device");

    /// <summary>What other saws are read from.</summary>
    public static PartList Brokers { get; } = new("brokers", "broker");

    /// <summary>The plant's rules.</summary>
    public static PartList Rules { get; } = new("alarms.rules", "rule");

    /// <summary>Who is told.</summary>
    public static PartList Contacts { get; } = new("alarms.contacts", "contact");

    /// <summary>The destinations, which have a follower of their own.</summary>
    public static PartList Influx { get; } = new("influx", "destination");

    /// <summary>All of them.</summary>
    public static IReadOnlyList<PartList> Lists { get; } = [Devices, Brokers, Saws, Rules, Contacts, Influx];

    /// <summary>Members at the top that are taken over, in whole or by their items.</summary>
    public static IReadOnlyList<string> Live { get; } = [Saws.Path, Devices.Path, Brokers.Path, Influx.Path, Calendar, JobsFile, Logging];

    /// <summary>Members of the alarms that are taken over.</summary>
    public static IReadOnlyList<string> LiveAlarms { get; } = ["rules", "withoutRules", "contacts"];

    /// <summary>What stands at a path of member names, or null.</summary>
    public static SourceNode? At(SourceNode? root, string path)
    {
        foreach (var name in path.Split('.'))
            root = root?.Find(name);
        return root;
    }

    /// <summary>Puts something at a path of one or two member names, or takes away what stands there.</summary>
    public static void Put(SourceNode root, string path, SourceNode? value)
    {
        var dot = path.IndexOf('.', StringComparison.Ordinal);
        if (dot < 0)
        {
            root.Put(path, value);
            return;
        }

        var outer = path[..dot];
        if (root.Find(outer) is not { Kind: SourceKind.Object } inside)
        {
            if (value is null)
                return;
            root.Set(outer, inside = new SourceNode(SourceKind.Object, "", value.Place));
        }

        inside.Put(path[(dot + 1)..], value);
    }

    /// <summary>The items of a list; none where there is none.</summary>
    public static IReadOnlyList<SourceNode> Items(SourceNode? root, PartList list) => At(root, list.Path)?.Items ?? [];

    /// <summary>Name of an item, or null.</summary>
    public static string? NameOf(SourceNode item) => item.Find(Name)?.Text;
}
