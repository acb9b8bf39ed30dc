namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>
/// Items of a list that are written as "like another, but": each takes over what the one that it names states and it does not itself, objects
/// member by member. What the other takes over from a third comes along.
/// </summary>
internal static class LikeMembers
{
    /// <summary>The member that names the other.</summary>
    public const string Member = "like";

    private const string Name = "name";

    /// <summary>Fills the items of a list in.</summary>
    /// <param name="root">The file.</param>
    /// <param name="list">Name of the list.</param>
    /// <param name="findings">Where mistakes go.</param>
    public static void Fill(SourceNode root, string list, Findings findings)
    {
        if (root.Find(list) is not { Kind: SourceKind.List } items)
            return;
        var filled = new HashSet<SourceNode>();
        for (var i = 0; i < items.Items.Count; i++)
            Fill(items, i, list, filled, [], findings);
    }

    private static void Fill(SourceNode items, int index, string list, HashSet<SourceNode> filled, List<int> asking, Findings findings)
    {
        var item = items.Items[index];
        if (item.Find(Member) is not { Kind: SourceKind.Text or SourceKind.Loose } like || !filled.Add(item))
            return;
        var path = Paths.Member(Paths.Item(list, index), Member);
        var other = items.Items.FindIndex(candidate => candidate.Find(Name)?.Text == like.Text);
        if (other < 0)
        {
            var names = items.Items.Select(candidate => candidate.Find(Name)?.Text).OfType<string>().Where(name => name != item.Find(Name)?.Text).ToList();
            findings.Error(path, names.Count == 0 ? $"there is no other of {list}; write the members out" : $"there is no {Words.Quoted(like.Text)} in {list}; {Words.DidYouMean(like.Text, names)}");
            return;
        }

        asking.Add(index);
        if (asking.Contains(other))
        {
            findings.Error(path, $"goes round in a circle ({string.Join(", ", asking.Append(other).Select(step => items.Items[step].Find(Name)?.Text ?? $"{list}[{step}]"))}); write the members of one of them out");
            return;
        }

        Fill(items, other, list, filled, asking, findings);
        TakeOver(items.Items[other], item, isItem: true);
    }

    private static void TakeOver(SourceNode from, SourceNode into, bool isItem)
    {
        foreach (var (name, value) in from.Members)
        {
            if (isItem && name is Name or Member)
                continue;

            // A member that is there as null says that it is not to be taken over.
            var index = into.Members.FindIndex(member => member.Key == name);
            if (index < 0)
                into.Members.Add(new(name, value.Copy()));
            else if (value.Kind == SourceKind.Object && into.Members[index].Value.Kind == SourceKind.Object)
                TakeOver(value, into.Members[index].Value, isItem: false);
        }
    }
}
