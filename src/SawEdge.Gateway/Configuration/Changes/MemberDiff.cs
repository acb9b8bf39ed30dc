using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Changes;

/// <summary>A member that is another than before.</summary>
/// <param name="Path">Its path within the part; empty: the part is a single value.</param>
/// <param name="Before">As it was written; null: it was left out.</param>
/// <param name="Now">As it is written; null: it is left out.</param>
/// <param name="IsSecret">Whether the values must not be shown.</param>
internal sealed record MemberChange(string Path, string? Before, string? Now, bool IsSecret)
{
    /// <summary>Which and how, in a few words; never a secret.</summary>
    public override string ToString()
    {
        var values = IsSecret ? "another, not shown" : $"{Before ?? "left out"} -> {Now ?? "left out"}";
        return Path.Length == 0 ? values : $"{Path}: {values}";
    }
}

/// <summary>What differs between a part as it was written and as it is.</summary>
internal static class MemberDiff
{
    private sealed record Leaf(SourceNode Node, bool IsSecret);

    /// <summary>The members that differ, in the order of what is now, then those that are left out.</summary>
    /// <param name="before">The part as it was, or null.</param>
    /// <param name="now">The part as it is, or null.</param>
    /// <param name="types">What the part may hold: tells what must not be shown.</param>
    public static IReadOnlyList<MemberChange> Of(SourceNode? before, SourceNode? now, IReadOnlyList<TypeDescription> types)
    {
        var (old, present) = (new OrderedDictionary<string, Leaf>(StringComparer.Ordinal), new OrderedDictionary<string, Leaf>(StringComparer.Ordinal));
        Gather(before, "", types, old);
        Gather(now, "", types, present);
        return
        [
            .. present.Keys.Concat(old.Keys).Distinct(StringComparer.Ordinal)
                .Select(path => (Path: path, Before: old.GetValueOrDefault(path), Now: present.GetValueOrDefault(path)))
                .Where(member => !SourceNode.AreSame(member.Before?.Node, member.Now?.Node))
                .Select(member => new MemberChange(member.Path, Shown(member.Before), Shown(member.Now), member.Before?.IsSecret == true || member.Now?.IsSecret == true)),
        ];
    }

    private static void Gather(SourceNode? node, string path, IReadOnlyList<TypeDescription> types, OrderedDictionary<string, Leaf> into)
    {
        if (node is null or { Kind: SourceKind.Null })
            return;
        if (node.Kind == SourceKind.Object)
        {
            foreach (var (name, value) in node.Members)
                Gather(value, Paths.Member(path, name), DescribedMembers.Below(types, name), into);
        }
        else if (node.Kind == SourceKind.List && node.Items.Exists(item => item.Kind is SourceKind.Object or SourceKind.List))
        {
            // What has a name is the same wherever it stands.
            foreach (var (index, item) in node.Items.Index())
            {
                var place = ConfigurationParts.NameOf(item) is { } name ? $"{path}[{Words.Quoted(name)}]" : Paths.Item(path, index);
                Gather(item, place, DescribedMembers.Items(types), into);
            }
        }
        else
        {
            into[path] = new Leaf(node, DescribedMembers.AreSecret(types));
        }
    }

    private static string? Shown(Leaf? leaf) => leaf switch
    {
        null => null,
        { IsSecret: true } => "",
        { Node.Kind: SourceKind.List } => $"[{Words.Clipped(string.Join(", ", leaf.Node.Items.Select(item => Shown(item))))}]",
        _ => Shown(leaf.Node),
    };

    private static string Shown(SourceNode node) => node.Kind is SourceKind.Text ? $"\"{Words.Clipped(node.Text)}\"" : Words.Clipped(node.Text);
}
