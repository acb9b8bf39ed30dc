using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace SawEdge.Gateway.Api;

/// <summary>How the API writes and reads JSON: camelCase, words of enumerations in snake case, times as RFC 3339 in UTC with milliseconds, what is not known as null.</summary>
internal static class ApiJson
{
    /// <summary>The options.</summary>
    public static JsonSerializerOptions Options { get; } = Make();

    /// <summary>A time as the API writes it.</summary>
    public static string Moment(DateTimeOffset time) => time.UtcDateTime.ToString("yyyy-MM-ddTHH:mm:ss.fffZ", CultureInfo.InvariantCulture);

    private static JsonSerializerOptions Make()
    {
        var options = new JsonSerializerOptions(JsonSerializerDefaults.Web)
        {
            // Texts of controllers go out as texts: the default escapes what could end a script or an attribute.
            Encoder = JavaScriptEncoder.Default,
            UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
            NumberHandling = JsonNumberHandling.Strict,
            MaxDepth = 8,
            AllowDuplicateProperties = false,
        };
        options.Converters.Add(new JsonStringEnumConverter(JsonNamingPolicy.SnakeCaseLower, allowIntegerValues: false));
        options.Converters.Add(new CycleJson());
        options.Converters.Add(new MomentConverter());
        options.Converters.Add(new KnownNumberConverter());
        options.MakeReadOnly(populateMissingResolver: true);
        return options;
    }

    private sealed class MomentConverter : JsonConverter<DateTimeOffset>
    {
        public override DateTimeOffset Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
            reader.TokenType == JsonTokenType.String && QueryReader.TryMoment(reader.GetString(), out var time)
                ? time
                : throw new JsonException("is no time; write for example \"2026-03-02T06:00:00Z\"");

        public override void Write(Utf8JsonWriter writer, DateTimeOffset value, JsonSerializerOptions options) => writer.WriteStringValue(Moment(value));
    }

    // NaN and infinity stand for "not known" inside.
    private sealed class KnownNumberConverter : JsonConverter<double>
    {
        public override double Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => reader.GetDouble();

        public override void Write(Utf8JsonWriter writer, double value, JsonSerializerOptions options)
        {
            if (double.IsFinite(value))
                writer.WriteNumberValue(value);
            else
                writer.WriteNullValue();
        }
    }
}
