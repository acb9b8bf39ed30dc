using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>
/// Writes a configuration without what must not be shown. What each value is says the declaration that reads it: secrets go, of addresses all but
/// scheme, host and port, and whatever is not declared, because nobody knows what it is. Comments are not written either.
/// </summary>
internal sealed partial class SecretRemoval
{
    /// <summary>What stands in place of what was taken out.</summary>
    public const string Mark = "(removed)";

    private readonly Utf8JsonWriter _json;
    private readonly Func<string, string?> _readSecret;
    private readonly HashSet<string> _known = new(StringComparer.Ordinal);

    private SecretRemoval(Utf8JsonWriter json, Func<string, string?> readSecret) => (_json, _readSecret) = (json, readSecret);

    /// <summary>Writes a configuration.</summary>
    /// <param name="root">The configuration as it is written.</param>
    /// <param name="type">What declares it.</param>
    /// <param name="readSecret">Reads a file that a configuration names as that of a secret; null where it cannot be read.</param>
    /// <returns>JSON, and the values that were taken out, of files as well, to be sought elsewhere.</returns>
    public static (string Json, IReadOnlySet<string> Known) Write(SourceNode root, TypeDescription type, Func<string, string?> readSecret)
    {
        using var bytes = new MemoryStream();
        using var json = new Utf8JsonWriter(bytes, new JsonWriterOptions { Indented = true, Encoder = System.Text.Encodings.Web.JavaScriptEncoder.UnsafeRelaxedJsonEscaping });
        var removal = new SecretRemoval(json, readSecret);
        removal.Write(root, [type]);
        json.Flush();
        return (Encoding.UTF8.GetString(bytes.ToArray()) + "\n", removal._known);
    }

    // Which variant of an object holds is not asked: a member is a secret where it is one in any of them.
    private void Write(SourceNode node, IReadOnlyList<TypeDescription> types)
    {
        types = [.. types.SelectMany(type => type is EitherDescription either ? either.Ways : [type])];
        switch (node.Kind)
        {
            case SourceKind.Null:
                _json.WriteNullValue();
                break;
            case SourceKind.Object when types.OfType<ObjectDescription>().Any() || types.OfType<MapDescription>().Any():
                WriteObject(node, types);
                break;
            case SourceKind.List when types.OfType<ListDescription>().ToList() is { Count: > 0 } lists:
                _json.WriteStartArray();
                foreach (var item in node.Items)
                    Write(item, [.. lists.Select(list => list.Item)]);
                _json.WriteEndArray();
                break;
            case SourceKind.Object or SourceKind.List:
                Remove(node);
                break;
            default:
                WriteScalar(node, [.. types.OfType<ScalarDescription>()]);
                break;
        }
    }

    private void WriteObject(SourceNode node, IReadOnlyList<TypeDescription> types)
    {
        var members = types.OfType<ObjectDescription>().SelectMany(type => type.AllMembers).ToLookup(member => member.Name, member => member.Type);
        var items = types.OfType<MapDescription>().Select(map => map.Item).ToList();
        _json.WriteStartObject();
        foreach (var (name, value) in node.Members)
        {
            IReadOnlyList<TypeDescription> known = [.. members[name], .. items];

            // A name that nobody knows may be a secret that was written in the wrong place.
            _json.WritePropertyName(known.Count > 0 ? name : Mark);
            if (known.Count > 0)
                Write(value, known);
            else
                Remove(value);
            if (name.EndsWith("File", StringComparison.Ordinal) && members[name[..^"File".Length]].OfType<ScalarDescription>().Any(type => type.IsSecret) && _readSecret(value.Text) is { } secret)
                KeepWithParts(secret);
        }

        _json.WriteEndObject();
    }

    private void WriteScalar(SourceNode node, IReadOnlyList<ScalarDescription> types)
    {
        var isText = node.Kind is SourceKind.Text or SourceKind.Loose;
        if (types.Count == 0 || types.Any(type => type.IsSecret))
            Remove(node);
        else if (isText && types.Any(type => type.Holds == TextContent.Address))
            WriteAddress(node);
        else if (isText && types.Any(type => type.Holds == TextContent.MayBeSecret))
            Remove(node);
        else if (isText && node.Text.Contains('@', StringComparison.Ordinal) && types.Any(type => type.Holds == TextContent.Host))
            Remove(node);
        else if (node.Kind is SourceKind.Number)
            _json.WriteRawValue(node.Text);
        else if (node.Kind is SourceKind.Flag)
            _json.WriteBooleanValue(node.Text == "true");
        else
            _json.WriteStringValue(node.Text);
    }

    private void WriteAddress(SourceNode node)
    {
        if (!Uri.TryCreate(node.Text, UriKind.Absolute, out var address) || address.Host.Length == 0)
        {
            Remove(node);
            return;
        }

        var server = address.GetComponents(UriComponents.SchemeAndServer, UriFormat.UriEscaped);
        var rest = address.PathAndQuery + address.Fragment;
        if (address.UserInfo.Length > 0)
            Keep(address.UserInfo, address.UserInfo.Split(':')[^1]);
        if (rest.Length > 1)
            Keep(rest.TrimStart('/'), rest.Split('=')[^1]);
        _json.WriteStringValue($"{server}{(address.UserInfo.Length > 0 || rest.Length > 1 ? "/" + Mark : "")}");
    }

    private void Remove(SourceNode node)
    {
        foreach (var scalar in Scalars(node))
            KeepWithParts(scalar.Text);
        _json.WriteStringValue(Mark);
    }

    // Elsewhere only a part of it may stand: the value of a header, a key within a template.
    private void KeepWithParts(string secret)
    {
        Keep(secret);
        foreach (var header in secret.Split(',').Select(header => header.Split('=', 2)).Where(header => header.Length == 2))
            Keep(header[1].Trim(), Uri.UnescapeDataString(header[1].Trim()));
        Keep(LikeAKey().Matches(secret).Select(match => match.Value));
    }

    [GeneratedRegex("(?=[A-Za-z0-9+/_.-]*[0-9])[A-Za-z0-9+/_.-]{12,}")]
    private static partial Regex LikeAKey();

    private void Keep(params IEnumerable<string> secrets) => _known.UnionWith(secrets);

    private static IEnumerable<SourceNode> Scalars(SourceNode node) => node.Kind switch
    {
        SourceKind.Object => node.Members.SelectMany(member => Scalars(member.Value)),
        SourceKind.List => node.Items.SelectMany(Scalars),
        SourceKind.Text or SourceKind.Loose or SourceKind.Number => [node],
        _ => [],
    };
}
