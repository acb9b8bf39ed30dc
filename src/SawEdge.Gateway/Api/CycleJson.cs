using System.Text.Json;
using System.Text.Json.Serialization;
using SawEdge.Core;

namespace SawEdge.Gateway.Api;

/// <summary>A cycle as JSON: all columns of the record in their order, camelCase; null where a value is not known.</summary>
internal sealed class CycleJson : JsonConverter<CycleRecord>
{
    private static readonly (JsonEncodedText Name, CycleColumn Column)[] Columns = [.. CycleColumns.All.Select(column => (JsonEncodedText.Encode(Camel(column.Name)), column))];

    /// <summary>The name of a column in camelCase.</summary>
    public static string Camel(string name) => string.Concat(name.Split('_').Select((word, i) => i == 0 ? word : char.ToUpperInvariant(word[0]) + word[1..]));

    /// <inheritdoc/>
    public override CycleRecord Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => throw new JsonException("A cycle is not taken from outside.");

    /// <inheritdoc/>
    public override void Write(Utf8JsonWriter writer, CycleRecord value, JsonSerializerOptions options)
    {
        writer.WriteStartObject();
        foreach (var (name, column) in Columns)
        {
            switch (column.Get(value))
            {
                case string { Length: > 0 } text:
                    writer.WriteString(name, text);
                    break;
                case double number when double.IsFinite(number):
                    writer.WriteNumber(name, number);
                    break;
                case long whole:
                    writer.WriteNumber(name, whole);
                    break;
                case DateTimeOffset time:
                    writer.WriteString(name, ApiJson.Moment(time));
                    break;
                default:
                    writer.WriteNull(name);
                    break;
            }
        }

        writer.WriteEndObject();
    }
}
