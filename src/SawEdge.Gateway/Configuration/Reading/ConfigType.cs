using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>What reading needs besides the value itself.</summary>
/// <param name="Findings">Where mistakes go.</param>
/// <param name="Folder">Folder of the configuration file: relative paths start here.</param>
/// <param name="Credentials">Folder of the secrets that the service manager hands over (systemd's CREDENTIALS_DIRECTORY), or null.</param>
internal sealed record ReadContext(Findings Findings, string Folder, string? Credentials = null);

/// <summary>
/// One kind of setting, declared once: it reads values, says what is wrong with them, and describes itself for
/// the schema and the documentation.
/// </summary>
/// <typeparam name="T">What a value becomes.</typeparam>
internal abstract class ConfigType<T>
{
    /// <summary>Reads a value; on a mistake adds findings and returns false. An object may be put together even then.</summary>
    public abstract bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out T value);

    /// <summary>Describes what values there are.</summary>
    public abstract TypeDescription Describe();
}

/// <summary>A setting as it was read.</summary>
/// <param name="Value">The value; the type's default where it is absent or wrong.</param>
/// <param name="Path">Its path.</param>
/// <param name="IsStated">Whether it was written down, rightly or wrongly.</param>
/// <param name="IsGood">Whether the value may be used in further checks: stated without a mistake, or the default. Never while describing.</param>
internal readonly record struct Setting<T>(T Value, string Path, bool IsStated, bool IsGood)
{
    public static implicit operator T(Setting<T> setting) => setting.Value;
}

/// <summary>A list of one kind of item.</summary>
internal sealed class ListType<T>(ConfigType<T> item, int minimum = 0, string example = "") : ConfigType<IReadOnlyList<Setting<T>>>
{
    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out IReadOnlyList<Setting<T>> value)
    {
        value = [];
        if (node.Kind != SourceKind.List)
        {
            context.Findings.Error(path, $"is {node.KindInWords}; write a list: [ ... ]");
            return false;
        }

        if (node.Items.Count < minimum)
        {
            context.Findings.Error(path, $"is empty; {example}");
            return false;
        }

        var items = new List<Setting<T>>();
        foreach (var entry in node.Items)
        {
            var itemPath = Paths.Item(path, items.Count);
            var good = item.TryRead(entry, itemPath, context, out var read);
            items.Add(new(read!, itemPath, true, good));
        }

        value = items;
        return items.TrueForAll(entry => entry.IsGood);
    }

    public override TypeDescription Describe() => new ListDescription(item.Describe(), minimum);
}

/// <summary>An object whose member names are raw values, for example codes and their texts.</summary>
internal abstract class RawMapType<TKey, T>(ConfigType<T> item) : ConfigType<IReadOnlyDictionary<TKey, T>>
    where TKey : notnull
{
    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out IReadOnlyDictionary<TKey, T> value)
    {
        var entries = new Dictionary<TKey, T>();
        value = entries;
        if (node.Kind != SourceKind.Object)
        {
            context.Findings.Error(path, $"is {node.KindInWords}; write an object, for example {{ \"0\": \"manual\", \"1\": \"automatic\" }}");
            return false;
        }

        var good = true;
        foreach (var (name, entry) in node.Members)
        {
            var entryPath = Paths.Member(path, name);
            if (FindProblem(name, out var key) is { } problem)
            {
                context.Findings.Error(entryPath, problem);
                good = false;
            }
            else if (!item.TryRead(entry, entryPath, context, out var read))
            {
                good = false;
            }
            else if (!entries.TryAdd(key!, read))
            {
                context.Findings.Error(entryPath, $"the value {key} has a text already");
                good = false;
            }
        }

        return good;
    }

    /// <summary>What is wrong with a member's name, or null and the raw value that it stands for.</summary>
    protected abstract string? FindProblem(string name, out TKey? key);
}

/// <summary>An object whose member names are whole numbers.</summary>
internal sealed class NumberMapType<T>(ConfigType<T> item) : RawMapType<long, T>(item)
{
    private readonly ConfigType<T> _item = item;

    public override TypeDescription Describe() => new MapDescription("^-?[0-9]+$", "whole number", _item.Describe());

    protected override string? FindProblem(string name, out long key) =>
        long.TryParse(name, System.Globalization.NumberStyles.AllowLeadingSign, System.Globalization.CultureInfo.InvariantCulture, out key)
            ? null
            : $"{Words.Quoted(name)} is no whole number; the names here are the raw values, for example \"1\"";
}

/// <summary>An object whose member names are raw values as they are written.</summary>
internal sealed class TextMapType<T>(ConfigType<T> item) : RawMapType<string, T>(item)
{
    private readonly ConfigType<T> _item = item;

    public override TypeDescription Describe() => new MapDescription("^.+$", "raw value", _item.Describe());

    protected override string? FindProblem(string name, out string? key)
    {
        key = name;
        return name.Length > 0 ? null : "a raw value is empty; leave it out, what comes empty is not read";
    }
}
