namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>What kind of value stands in the source.</summary>
internal enum SourceKind
{
    /// <summary>Members in braces.</summary>
    Object,

    /// <summary>Items in brackets.</summary>
    List,

    /// <summary>A text in double quotes.</summary>
    Text,

    /// <summary>A number.</summary>
    Number,

    /// <summary>true or false.</summary>
    Flag,

    /// <summary>null: as if the member were not there.</summary>
    Null,

    /// <summary>The value of an environment variable or a default: a text that may stand for a number or a flag as well.</summary>
    Loose,
}

/// <summary>Where a value comes from.</summary>
/// <param name="Line">Line in the file, from 1, or null.</param>
/// <param name="Column">Character in the line, from 1, or null.</param>
/// <param name="Variable">Name of the environment variable, or null.</param>
internal readonly record struct SourcePlace(int? Line, int? Column, string? Variable);

/// <summary>One value of the configuration as it was written, with its place; the environment's values are laid over the file's.</summary>
internal sealed class SourceNode(SourceKind kind, string text, SourcePlace place)
{
    public SourceKind Kind { get; } = kind;

    /// <summary>The text, the number as written, <c>true</c> or <c>false</c>; empty for the other kinds.</summary>
    public string Text { get; } = text;

    public SourcePlace Place { get; } = place;

    /// <summary>Members in the order of the file; only an object has any.</summary>
    public List<KeyValuePair<string, SourceNode>> Members { get; } = [];

    /// <summary>Items; only a list has any.</summary>
    public List<SourceNode> Items { get; } = [];

    /// <summary>A default, written the way an environment variable would state it.</summary>
    public static SourceNode Loose(string text, string? variable = null) => new(SourceKind.Loose, text, new SourcePlace(null, null, variable));

    /// <summary>The member of that name, or null where it is absent or <c>null</c>.</summary>
    public SourceNode? Find(string name)
    {
        foreach (var (key, value) in Members)
        {
            if (key == name)
                return value.Kind == SourceKind.Null ? null : value;
        }

        return null;
    }

    /// <summary>Sets a member, in the place of one of the same name where there is one.</summary>
    public void Set(string name, SourceNode value)
    {
        var index = Members.FindIndex(member => member.Key == name);
        if (index >= 0)
            Members[index] = new(name, value);
        else
            Members.Add(new(name, value));
    }

    /// <summary>The same with the same places, to be changed by itself.</summary>
    public SourceNode Copy()
    {
        var copy = new SourceNode(Kind, Text, Place);
        copy.Members.AddRange(Members.Select(member => new KeyValuePair<string, SourceNode>(member.Key, member.Value.Copy())));
        copy.Items.AddRange(Items.Select(item => item.Copy()));
        return copy;
    }

    /// <summary>Puts a member in the place of one of the same name, or takes that away.</summary>
    public void Put(string name, SourceNode? value)
    {
        if (value is not null)
            Set(name, value);
        else
            Members.RemoveAll(member => member.Key == name);
    }

    /// <summary>Whether two values, either of which may be absent, say the same; the order of members says nothing, and neither does where they stand.</summary>
    public static bool AreSame(SourceNode? one, SourceNode? other)
    {
        if (one is null or { Kind: SourceKind.Null } || other is null or { Kind: SourceKind.Null })
            return (one is null or { Kind: SourceKind.Null }) && (other is null or { Kind: SourceKind.Null });
        if (one.Kind != other.Kind || one.Text != other.Text || one.Items.Count != other.Items.Count)
            return false;
        return one.Members.Concat(other.Members).All(member => AreSame(one.Find(member.Key), other.Find(member.Key)))
            && one.Items.Zip(other.Items).All(pair => AreSame(pair.First, pair.Second));
    }

    /// <summary>What stands here, for messages: "a text", "a list" and so on.</summary>
    public string KindInWords => Kind switch
    {
        SourceKind.Object => "an object",
        SourceKind.List => "a list",
        SourceKind.Number => "a number",
        SourceKind.Flag => Text,
        SourceKind.Null => "null",
        _ => "a text",
    };

    /// <summary>The value for messages: a number as it is, a text in quotes.</summary>
    public string Shown => Kind == SourceKind.Number ? Words.Clipped(Text) : Words.Quoted(Text);

    /// <summary>The place of a path, or of the nearest thing around it that exists.</summary>
    /// <param name="path">A path as findings state it.</param>
    public SourcePlace PlaceOf(string path)
    {
        var node = this;
        var position = 0;
        while (position < path.Length)
        {
            SourceNode? next;
            if (path[position] == '[')
            {
                var end = path.IndexOf(']', position);
                next = int.TryParse(path.AsSpan(position + 1, end - position - 1), out var index) && index < node.Items.Count ? node.Items[index] : null;
                position = end + 1;
            }
            else
            {
                if (path[position] == '.')
                    position++;
                // A member's own name may hold dots and brackets; the longest name that fits is meant.
                var rest = path[position..];
                var fitting = node.Members.Where(member => IsFirstStep(rest, member.Key)).OrderByDescending(member => member.Key.Length).ToList();
                next = fitting.Count > 0 ? fitting[0].Value : null;
                position += fitting.Count > 0 ? fitting[0].Key.Length : 0;
            }

            if (next is null)
                break;
            node = next;
        }

        return node.Place;
    }

    private static bool IsFirstStep(string path, string name) =>
        path.StartsWith(name, StringComparison.Ordinal) && (path.Length == name.Length || path[name.Length] is '.' or '[');
}
