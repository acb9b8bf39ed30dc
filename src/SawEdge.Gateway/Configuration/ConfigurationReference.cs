using System.Globalization;
using System.Text;
using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration;

/// <summary>The reference of the configuration file for people, in Markdown, made from the same declarations that read it.</summary>
public static class ConfigurationReference
{
    private const string Introduction = """
        # The configuration file

        Made from the program (`sawedge schema --for people`); an editor gets the same from `sawedge.schema.json`. The file is JSON; remarks (`//`, `/* */`) and commas
        after the last member are allowed. `sawedge check FILE` says what is wrong with it, where, and what would be right; `sawedge init` writes one to begin with.

        A quantity has its unit with it: `"41 mm"`, `"7.5 hp"`, `"300 ms"`. Every value can come from the environment instead: `SAWEDGE_influx__0__token` sets `influx[0].token`.
        A secret is never shown, and stands best in a file of its own that the configuration names.

        """;

    /// <summary>Writes it; the same text every time, with a line end at its end.</summary>
    public static string Write()
    {
        var text = new StringBuilder(Introduction.ReplaceLineEndings("\n"));
        var root = (ObjectDescription)GatewayBinding.Type.Describe();
        var (queue, known) = (new Queue<ObjectDescription>(), new HashSet<string>(StringComparer.Ordinal) { root.Name });
        queue.Enqueue(root);
        while (queue.TryDequeue(out var part))
            Part(text, part, found =>
            {
                if (known.Add(found.Name))
                    queue.Enqueue(found);
            });
        return text.ToString();
    }

    private static void Part(StringBuilder text, ObjectDescription part, Action<ObjectDescription> found)
    {
        text.Append(CultureInfo.InvariantCulture, $"\n## {part.Name}\n\n{part.Doc}\n");
        if (part.MayBeLike)
            text.Append("\nIt may be written as another with differences: `\"like\": \"NAME\"` and what is different; `null` takes a member away.\n");
        List<MemberDescription> common = part.Variants is { } variants
            ? [.. part.Members, new MemberDescription(variants.Name, variants.Discriminator, variants.Doc, variants.Fallback is null, variants.Fallback)]
            : part.Members;
        Table(text, common, found);
        foreach (var choice in part.Variants?.Choices ?? [])
        {
            text.Append(CultureInfo.InvariantCulture, $"\n### {part.Name} with \"{part.Variants!.Name}\": \"{choice.Value}\"\n\n{choice.Doc}\n");
            if (choice.Members.Count > 0)
                Table(text, choice.Members, found);
        }
    }

    private static void Table(StringBuilder text, IReadOnlyList<MemberDescription> members, Action<ObjectDescription> found)
    {
        text.Append("\n| member | holds | if left out | what it is for |\n|---|---|---|---|\n");
        foreach (var member in members)
            text.Append(CultureInfo.InvariantCulture, $"| `{member.Name}` | {Cell(Words(member.Type, found))} | {(member.IsRequired ? "required" : member.Fallback is { } fallback ? $"`{Cell(fallback)}`" : "")} | {Cell(member.Doc)}{Cell(Choices(member))} |\n");
    }

    private static string Words(TypeDescription type, Action<ObjectDescription> found)
    {
        switch (type)
        {
            case ScalarDescription scalar:
                return Words(scalar);
            case ListDescription list:
                return $"list of {Words(list.Item, found)}";
            case EitherDescription either:
                return string.Join(" or ", either.Ways.Select(way => Words(way, found)));
            case MapDescription map:
                return $"`{{ {map.KeyKind}: ... }}`, each {Words(map.Item, found)}";
            case ObjectDescription part:
                found(part);
                return $"[{part.Name}](#{part.Name.ToLowerInvariant()})";
            default:
                throw new InvalidOperationException($"No words are known for {type}.");
        }
    }

    private static string Words(ScalarDescription scalar)
    {
        if (scalar.Choices.Count > 0)
            return string.Join(", ", scalar.Choices.Select(choice => $"`{choice.Value}`"));
        var range = scalar.Range ?? (scalar.Minimum, scalar.Maximum) switch
        {
            ({ } least, { } most) => string.Create(CultureInfo.InvariantCulture, $"{least} to {most}"),
            ({ } least, null) => string.Create(CultureInfo.InvariantCulture, $"at least {least}"),
            (null, { } most) => string.Create(CultureInfo.InvariantCulture, $"at most {most}"),
            _ => null,
        };
        var example = scalar.Examples.Count > 0 && !scalar.IsSecret ? $", such as `{scalar.Examples[0]}`" : "";
        range = range?.StartsWith("write ", StringComparison.Ordinal) == true ? range["write ".Length..] : range;
        return $"{scalar.Kind}{(range is null ? "" : $" ({range})")}{example}{(scalar.IsSecret ? ", secret" : "")}";
    }

    // What the text about a member says of its values already is not said again.
    private static string Choices(MemberDescription member) => member.Type is ScalarDescription scalar
        ? string.Concat(scalar.Choices.Where(choice => choice.Doc.Length > 0 && !member.Doc.Contains(choice.Doc, StringComparison.Ordinal)).Select(choice => $" `{choice.Value}`: {choice.Doc}"))
        : "";

    private static string Cell(string words) => words.Replace("|", "\\|", StringComparison.Ordinal).Replace('\n', ' ');
}
