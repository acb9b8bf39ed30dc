using System.Globalization;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration.Changes;

/// <summary>What a gateway that runs takes over of a changed file.</summary>
/// <param name="Options">The configuration that holds from now on.</param>
/// <param name="Source">The same as it is written; what comes next is held against it.</param>
internal sealed record MergedConfiguration(GatewayOptions Options, SourceNode Source)
{
    /// <summary>Parts with mistakes, in words: they stay as they were.</summary>
    public IReadOnlyList<string> Kept { get; init; } = [];

    /// <summary>Settings, or parts in words, that hold from the next start on.</summary>
    public IReadOnlyList<string> ForNextStart { get; init; } = [];
}

/// <summary>
/// Puts together what holds of a changed configuration while the gateway runs: the changed parts that are without mistakes, the rest as it was.
/// What comes out is checked as any configuration is, so that no part is taken over that does not fit what it meets.
/// </summary>
internal sealed class ConfigurationMerge
{
    // What is given up together, where a part that was put back does not fit what others have become.
    private static readonly string[][] Widen = [[ConfigurationParts.Calendar], ["saws", "devices", "brokers"], [ConfigurationParts.Alarms], ["influx", ConfigurationParts.JobsFile, ConfigurationParts.Logging]];

    // Longer names first, so that a path is taken for the narrowest part that it lies in.
    private static readonly string[] Wholes = ["alarms.rules", "alarms.contacts", ConfigurationParts.WithoutRules, "saws", "devices", "brokers", "influx", ConfigurationParts.Calendar, ConfigurationParts.JobsFile, ConfigurationParts.Logging, ConfigurationParts.Alarms];

    private readonly SourceNode _running;
    private readonly SourceNode _merged;
    private readonly SortedSet<string> _back = new(StringComparer.Ordinal);

    private ConfigurationMerge(SourceNode running, SourceNode changed) => (_running, _merged) = (running, changed.Copy());

    /// <summary>Puts it together.</summary>
    /// <param name="running">What holds, as it is written.</param>
    /// <param name="changed">The changed file, as it came of reading it.</param>
    /// <param name="read">Converts and checks.</param>
    /// <returns>Null where nothing can be taken over.</returns>
    public static MergedConfiguration? Run(SourceNode running, LoadedConfiguration changed, Func<SourceNode, LoadedConfiguration> read)
    {
        if (changed.Source is not { Kind: SourceKind.Object } source)
            return null;
        var merge = new ConfigurationMerge(running, source);
        var later = merge.LeaveForStart(source);
        merge.PutBack(changed.Errors);
        var kept = merge._back.ToList();
        merge._back.Clear();
        var wider = new Queue<string[]>(Widen);
        while (true)
        {
            var loaded = read(merge._merged);
            if (loaded.Options is { } options)
            {
                // Without a mistake in the file, what does not fit is in want of something that only a start takes over.
                return changed.Errors.Any()
                    ? new MergedConfiguration(options, merge._merged) { Kept = [.. kept, .. merge._back.Except(kept)], ForNextStart = later }
                    : new MergedConfiguration(options, merge._merged) { ForNextStart = [.. later, .. merge._back] };
            }

            var went = merge.PutBack(loaded.Errors);
            while (!went)
            {
                if (!wider.TryDequeue(out var parts))
                    return null;
                foreach (var part in parts)
                    went |= merge.PutBackWhole(part);
            }
        }
    }

    /// <summary>Puts back what only a start takes over.</summary>
    /// <returns>The settings among it that were changed.</returns>
    private List<string> LeaveForStart(SourceNode changed)
    {
        var names = Names(changed).Union(Names(_running)).Except(ConfigurationParts.Live).Where(name => name is not (ConfigurationParts.Alarms or "$schema"));
        var alarms = Names(ConfigurationParts.At(changed, ConfigurationParts.Alarms)).Union(Names(ConfigurationParts.At(_running, ConfigurationParts.Alarms))).Except(ConfigurationParts.LiveAlarms);
        var later = new List<string>();
        foreach (var path in names.Concat(alarms.Select(name => $"{ConfigurationParts.Alarms}.{name}")))
        {
            var (now, before) = (ConfigurationParts.At(changed, path), ConfigurationParts.At(_running, path));
            if (SourceNode.AreSame(now, before))
                continue;
            later.AddRange(MemberDiff.Of(before, now, []).Select(member => member.Path.Length == 0 ? path : member.Path[0] == '[' ? path + member.Path : $"{path}.{member.Path}"));
            ConfigurationParts.Put(_merged, path, before);
        }

        // The channels know the addresses of their start.
        foreach (var contact in ConfigurationParts.Items(_merged, ConfigurationParts.Contacts).ToList())
        {
            var before = ConfigurationParts.Items(_running, ConfigurationParts.Contacts).FirstOrDefault(other => ConfigurationParts.NameOf(other) == ConfigurationParts.NameOf(contact));
            if (contact.Find("to") is null || (SourceNode.AreSame(contact.Find("to"), before?.Find("to")) && SourceNode.AreSame(contact.Find("channel"), before?.Find("channel"))))
                continue;
            later.Add($"{ConfigurationParts.Contacts.Word} {Words.Quoted(ConfigurationParts.NameOf(contact) ?? "")}");
            PutBackItem(ConfigurationParts.Contacts, contact);
        }

        _back.Clear();
        return later;
    }

    // The items are found before any of them goes, because that moves those behind it.
    private bool PutBack(IEnumerable<Finding> errors)
    {
        var items = new HashSet<(PartList List, SourceNode Item)>();
        var wholes = new HashSet<string>(StringComparer.Ordinal);
        foreach (var path in errors.Select(error => error.Path))
        {
            if (ItemAt(path) is { } item)
                items.Add(item);
            else if (Array.Find(Wholes, whole => path.StartsWith(whole, StringComparison.Ordinal) && (path.Length == whole.Length || path[whole.Length] is '.' or '[')) is { } found)
                wholes.Add(found);
        }

        var went = false;
        foreach (var (list, item) in items)
            went |= PutBackItem(list, item);
        foreach (var whole in wholes)
            went |= PutBackWhole(whole);
        return went;
    }

    private (PartList List, SourceNode Item)? ItemAt(string path)
    {
        foreach (var list in ConfigurationParts.Lists)
        {
            if (!path.StartsWith(list.Path + "[", StringComparison.Ordinal))
                continue;
            var from = list.Path.Length + 1;
            var items = ConfigurationParts.Items(_merged, list);
            if (int.TryParse(path.AsSpan(from, path.IndexOf(']', from) - from), NumberStyles.None, CultureInfo.InvariantCulture, out var index) && index < items.Count)
                return (list, items[index]);
        }

        return null;
    }

    private bool PutBackItem(PartList list, SourceNode item)
    {
        var items = ConfigurationParts.At(_merged, list.Path)!.Items;
        var name = ConfigurationParts.NameOf(item);
        var before = name is null ? null : ConfigurationParts.Items(_running, list).FirstOrDefault(other => ConfigurationParts.NameOf(other) == name);
        var index = items.IndexOf(item);
        if (index < 0 || ReferenceEquals(item, before))
            return false;
        _back.Add(name is null ? $"{list.Path}[{index}]" : $"{list.Word} {Words.Quoted(name)}");

        // Of two with one name only the first can be meant.
        if (before is null || items.Contains(before))
            items.RemoveAt(index);
        else
            items[index] = before;
        return true;
    }

    private bool PutBackWhole(string path)
    {
        var before = ConfigurationParts.At(_running, path);
        if (ReferenceEquals(ConfigurationParts.At(_merged, path), before))
            return false;
        _back.Add(path);
        ConfigurationParts.Put(_merged, path, before);
        return true;
    }

    private static IEnumerable<string> Names(SourceNode? node) => (node?.Members ?? []).Select(member => member.Key);
}
