using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Changes;

/// <summary>What became of a part.</summary>
internal enum PartFate
{
    /// <summary>It is new.</summary>
    Added,

    /// <summary>It is another than before.</summary>
    Changed,

    /// <summary>It is gone.</summary>
    Removed,
}

/// <summary>A part that is new, another, or gone.</summary>
/// <param name="List">The list that it is of; null: it is none of a list.</param>
/// <param name="Name">Its name, or its path where it is none of a list.</param>
/// <param name="Fate">What became of it.</param>
/// <param name="Members">The members that differ; empty where it is new or gone.</param>
internal sealed record PartChange(PartList? List, string Name, PartFate Fate, IReadOnlyList<MemberChange> Members)
{
    private const int MostShown = 12;

    /// <summary>The part in words.</summary>
    public string Part => List is null ? Name : $"{List.Word} {Words.Quoted(Name)}";

    /// <summary>What became of it, in words, with the old and the new value of each member that differs.</summary>
    public string Told => Fate switch
    {
        PartFate.Added => "added",
        PartFate.Removed => "removed",
        _ when Members.Count > MostShown => $"changed ({string.Join("; ", Members.Take(MostShown))}; and {Members.Count - MostShown} more)",
        _ => $"changed ({string.Join("; ", Members)})",
    };
}

/// <summary>What differs between two configurations, part by part.</summary>
internal static class ConfigurationDiff
{
    /// <summary>The parts that differ: connections, saws, rules, contacts, calendar, job list. Destinations have a follower of their own.</summary>
    /// <param name="before">As it was written.</param>
    /// <param name="now">As it is written.</param>
    public static IReadOnlyList<PartChange> Of(SourceNode before, SourceNode now)
    {
        var changes = new List<PartChange>();
        foreach (var list in ConfigurationParts.Lists.Where(list => list != ConfigurationParts.Influx))
        {
            var types = DescribedMembers.Items(TypesAt(list.Path));
            var (old, present) = (ByName(before, list), ByName(now, list));
            foreach (var (name, item) in present)
            {
                if (!old.TryGetValue(name, out var other))
                    changes.Add(new PartChange(list, name, PartFate.Added, []));
                else if (MemberDiff.Of(other, item, types) is { Count: > 0 } members)
                    changes.Add(new PartChange(list, name, PartFate.Changed, members));
            }

            changes.AddRange(old.Keys.Where(name => !present.ContainsKey(name)).Select(name => new PartChange(list, name, PartFate.Removed, [])));
        }

        foreach (var path in (string[])[ConfigurationParts.WithoutRules, ConfigurationParts.Calendar, ConfigurationParts.JobsFile])
        {
            var (old, present) = (ConfigurationParts.At(before, path), ConfigurationParts.At(now, path));
            if (MemberDiff.Of(old, present, TypesAt(path)) is { Count: > 0 } members)
                changes.Add(new PartChange(null, path, old is null ? PartFate.Added : present is null ? PartFate.Removed : PartFate.Changed, old is null || present is null ? [] : members));
        }

        return changes;
    }

    private static OrderedDictionary<string, SourceNode> ByName(SourceNode root, PartList list)
    {
        var items = new OrderedDictionary<string, SourceNode>(StringComparer.Ordinal);
        foreach (var item in ConfigurationParts.Items(root, list))
            items.TryAdd(ConfigurationParts.NameOf(item) ?? "", item);
        return items;
    }

    private static IReadOnlyList<TypeDescription> TypesAt(string path) =>
        path.Split('.').Aggregate((IReadOnlyList<TypeDescription>)[GatewayBinding.Type.Describe()], DescribedMembers.Below);
}
