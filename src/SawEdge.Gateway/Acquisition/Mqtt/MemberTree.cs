using System.Globalization;
using System.Text;
using System.Text.Json;

namespace SawEdge.Gateway.Acquisition.Mqtt;

/// <summary>
/// The members of a payload that are mapped, as a tree of names: a payload is walked once, and what is not mapped is skipped. A
/// path has dots between its levels; a number is also an index into a list; a dot that belongs to a name is written <c>\.</c>.
/// </summary>
internal sealed class MemberTree
{
    private readonly List<MemberTree> _children = [];

    private MemberTree(string name)
    {
        Name = Encoding.UTF8.GetBytes(name);
        Index = int.TryParse(name, NumberStyles.None, CultureInfo.InvariantCulture, out var index) ? index : -1;
    }

    /// <summary>Makes the root, which stands for the payload as a whole.</summary>
    public MemberTree()
        : this("")
    {
    }

    /// <summary>The member's name, UTF-8.</summary>
    public byte[] Name { get; }

    /// <summary>The member's place in a list, or -1.</summary>
    public int Index { get; }

    /// <summary>Signals that are found here.</summary>
    public List<MappedSignal> Signals { get; } = [];

    /// <summary>Whether the payload's time is found here.</summary>
    public bool IsTime { get; set; }

    /// <summary>Whether anything is mapped below.</summary>
    public bool HasChildren => _children.Count > 0;

    /// <summary>The place of a path; made where it is not there yet.</summary>
    public MemberTree At(string path)
    {
        var node = this;
        foreach (var name in Split(path))
        {
            var child = node._children.Find(other => other.Name.AsSpan().SequenceEqual(Encoding.UTF8.GetBytes(name)));
            if (child is null)
                node._children.Add(child = new MemberTree(name));
            node = child;
        }

        return node;
    }

    /// <summary>The member that the reader stands at, or null where it is not mapped.</summary>
    public MemberTree? Member(ref Utf8JsonReader reader)
    {
        foreach (var child in _children)
        {
            if (reader.ValueTextEquals(child.Name))
                return child;
        }

        return null;
    }

    /// <summary>The place in a list, or null where it is not mapped.</summary>
    public MemberTree? Item(int index)
    {
        foreach (var child in _children)
        {
            if (child.Index == index)
                return child;
        }

        return null;
    }

    private static List<string> Split(string path)
    {
        var names = new List<string>();
        var name = new StringBuilder();
        for (var i = 0; i < path.Length; i++)
        {
            if (path[i] == '.')
            {
                names.Add(name.ToString());
                name.Clear();
            }
            else
            {
                if (path[i] == '\\' && i + 1 < path.Length)
                    i++;
                name.Append(path[i]);
            }
        }

        names.Add(name.ToString());
        return names;
    }
}
