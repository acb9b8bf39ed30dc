using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using SawEdge.Gateway.Configuration.Binding;
using SawEdge.Gateway.Configuration.Reading;

namespace SawEdge.Gateway.Configuration;

/// <summary>
/// The JSON Schema (draft-07, which editors know best) of the configuration file, made from the same declarations that read it.
/// What a schema cannot say - ranges of values with units, references between parts - stands in the descriptions and is checked by <c>check</c>.
/// </summary>
public static class ConfigurationSchema
{
    private static readonly JsonSerializerOptions Layout = new() { WriteIndented = true, NewLine = "\n", Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Writes the schema; the same text every time, with a line end at its end.</summary>
    public static string Write()
    {
        var definitions = new SortedDictionary<string, JsonNode?>(StringComparer.Ordinal);
        var root = (ObjectDescription)GatewayBinding.Type.Describe();
        var schema = new JsonObject
        {
            ["$schema"] = "http://json-schema.org/draft-07/schema#",
            ["title"] = "SawEdge gateway",
        };
        foreach (var (name, value) in Members(root.Doc, root.Members, definitions))
            schema[name] = value?.DeepClone();
        schema["definitions"] = new JsonObject(definitions);
        return schema.ToJsonString(Layout) + "\n";
    }

    private static JsonObject Type(TypeDescription type, SortedDictionary<string, JsonNode?> definitions) => type switch
    {
        ScalarDescription scalar => Scalar(scalar),
        ListDescription list => List(list, definitions),
        EitherDescription either => new JsonObject { ["anyOf"] = new JsonArray([.. either.Ways.Select(way => Type(way, definitions))]) },
        MapDescription map => new JsonObject
        {
            ["type"] = "object",
            ["patternProperties"] = new JsonObject { [map.KeyPattern] = Type(map.Item, definitions) },
            ["additionalProperties"] = false,
        },
        ObjectDescription description => Reference(description, definitions),
        _ => throw new InvalidOperationException($"No schema is known for {type}."),
    };

    private static JsonObject List(ListDescription list, SortedDictionary<string, JsonNode?> definitions)
    {
        var schema = new JsonObject { ["type"] = "array", ["items"] = Type(list.Item, definitions) };
        if (list.Minimum > 0)
            schema["minItems"] = list.Minimum;
        return schema;
    }

    private static JsonObject Reference(ObjectDescription description, SortedDictionary<string, JsonNode?> definitions)
    {
        if (!definitions.ContainsKey(description.Name))
        {
            definitions[description.Name] = null;
            definitions[description.Name] = description.Variants is null ? Members(description.Doc, description.Members, definitions) : Variants(description, description.Variants, definitions);
        }

        return new JsonObject { ["$ref"] = $"#/definitions/{description.Name}" };
    }

    private static JsonObject Variants(ObjectDescription description, VariantsDescription variants, SortedDictionary<string, JsonNode?> definitions)
    {
        var choices = new JsonArray();
        foreach (var choice in variants.Choices)
        {
            var deciding = variants.Discriminator with { Choices = [(choice.Value, choice.Doc)] };
            var isFallback = choice.Value == variants.Fallback;
            var member = new MemberDescription(variants.Name, deciding, $"{variants.Doc} \"{choice.Value}\": {choice.Doc}", !isFallback, isFallback ? variants.Fallback : null);
            choices.Add(Members(choice.Doc, [.. description.Members.Where(other => !description.MayBeLike || other.Name != LikeMembers.Member), member, .. choice.Members], definitions));
        }

        if (description.MayBeLike)
            choices.Add(Like(description, definitions));

        return new JsonObject { ["description"] = description.Doc, ["oneOf"] = choices };
    }

    // What is written beside "like" may be any part of any variant, so an editor can only name the members; 'check' sees the whole.
    private static JsonObject Like(ObjectDescription description, SortedDictionary<string, JsonNode?> definitions)
    {
        var properties = new JsonObject();
        foreach (var member in description.AllMembers.DistinctBy(member => member.Name))
        {
            properties[member.Name] = member.Type is ObjectDescription
                ? new JsonObject { ["description"] = member.Doc, ["type"] = new JsonArray("object", "null") }
                : Member(member, definitions);
        }

        return new JsonObject
        {
            ["description"] = "Like another, but.",
            ["type"] = "object",
            ["properties"] = properties,
            ["required"] = new JsonArray("name", LikeMembers.Member),
            ["additionalProperties"] = false,
        };
    }

    private static JsonObject Members(string doc, IReadOnlyList<MemberDescription> members, SortedDictionary<string, JsonNode?> definitions)
    {
        var properties = new JsonObject();
        foreach (var member in members)
            properties[member.Name] = Member(member, definitions);
        var schema = new JsonObject { ["description"] = doc, ["type"] = "object", ["properties"] = properties };
        if (members.Any(member => member.IsRequired))
            schema["required"] = new JsonArray([.. members.Where(member => member.IsRequired).Select(member => JsonValue.Create(member.Name))]);
        schema["additionalProperties"] = false;
        return schema;
    }

    private static JsonObject Member(MemberDescription member, SortedDictionary<string, JsonNode?> definitions)
    {
        var schema = Type(member.Type, definitions);
        // Beside a $ref nothing else is looked at in draft-07.
        if (schema.ContainsKey("$ref"))
            schema = new JsonObject { ["allOf"] = new JsonArray(schema) };
        var scalar = member.Type as ScalarDescription;
        var range = scalar?.Range is { } limits && !scalar.Forms.SequenceEqual([SourceKind.Number]) ? $" Range: {limits}." : "";
        var choices = scalar is null ? "" : string.Concat(scalar.Choices.Where(choice => !member.Doc.Contains(choice.Doc, StringComparison.Ordinal)).Select(choice => $" {choice.Value}: {choice.Doc}"));
        schema.Insert(0, "description", member.Doc + choices + range);
        if (member.Fallback is { } fallback)
            schema["default"] = scalar?.Forms[0] is SourceKind.Number or SourceKind.Flag ? JsonNode.Parse(fallback) : fallback;
        return schema;
    }

    private static JsonObject Scalar(ScalarDescription scalar)
    {
        var schema = new JsonObject();
        if (scalar.Choices.Count > 0)
        {
            var values = new JsonArray();
            foreach (var (value, _) in scalar.Choices)
            {
                values.Add(value);
                // A choice that looks like a number may be written as one.
                if (double.TryParse(value, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var number) && number.ToString(CultureInfo.InvariantCulture) == value)
                    values.Add(JsonNode.Parse(value));
            }

            schema["enum"] = values;
            return schema;
        }

        var forms = scalar.Forms.Select(form => form switch { SourceKind.Number => scalar.Whole ? "integer" : "number", SourceKind.Flag => "boolean", _ => "string" }).ToList();
        schema["type"] = forms.Count == 1 ? forms[0] : new JsonArray([.. forms.Select(form => JsonValue.Create(form))]);
        if (scalar.Forms.Contains(SourceKind.Text))
        {
            schema["minLength"] = 1;
            if (scalar.MaximumLength is { } length)
                schema["maxLength"] = length;
            if (scalar.Pattern is { } pattern)
                schema["pattern"] = pattern;
        }

        if (scalar.Minimum is { } minimum)
            schema["minimum"] = minimum;
        if (scalar.Maximum is { } maximum)
            schema["maximum"] = maximum;
        if (scalar.Examples.Count > 0 && scalar.Forms[0] == SourceKind.Text)
            schema["examples"] = new JsonArray([.. scalar.Examples.Select(example => JsonValue.Create(example))]);
        return schema;
    }
}
