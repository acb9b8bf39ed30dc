using System.Text.Json;
using System.Text.Json.Serialization;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.History;

/// <summary>
/// An occurrence as JSON, as an event keeps it: snake case, enumerations by name, what is not known left out or <c>"NaN"</c>. Readable by
/// SQLite's json functions. A double comes back bit for bit; times are whole milliseconds as in the columns, so that an occurrence is the same
/// whether its row or its last event is asked.
/// </summary>
internal static class AlarmJson
{
    /// <summary>The JSON of an occurrence.</summary>
    public static string Write(Alarm alarm)
    {
        var stored = alarm with { RaisedAt = Whole(alarm.RaisedAt), ClearedAt = Whole(alarm.ClearedAt), AcknowledgedAt = Whole(alarm.AcknowledgedAt), ShelvedUntil = Whole(alarm.ShelvedUntil) };
        return JsonSerializer.Serialize(stored, AlarmJsonContext.Default.Alarm);
    }

    /// <summary>The occurrence of some JSON.</summary>
    /// <exception cref="InvalidDataException">It is none.</exception>
    public static Alarm Read(string json) => Read(json, () => JsonSerializer.Deserialize(json, AlarmJsonContext.Default.Alarm));

    /// <summary>The JSON of the numbers of alarms.</summary>
    public static string Write(IReadOnlyList<long> numbers) => JsonSerializer.Serialize(numbers, AlarmJsonContext.Default.IReadOnlyListInt64);

    /// <summary>The numbers of some JSON.</summary>
    /// <exception cref="InvalidDataException">They are none.</exception>
    public static IReadOnlyList<long> ReadNumbers(string json) => Read(json, () => JsonSerializer.Deserialize(json, AlarmJsonContext.Default.IReadOnlyListInt64));

    private static DateTimeOffset Whole(DateTimeOffset time) => DateTimeOffset.FromUnixTimeMilliseconds(time.ToUnixTimeMilliseconds());

    private static DateTimeOffset? Whole(DateTimeOffset? time) => time is { } known ? Whole(known) : null;

    private static T Read<T>(string json, Func<T?> read)
        where T : class
    {
        try
        {
            return read() ?? throw new InvalidDataException("A stored alarm holds nothing.");
        }
        catch (JsonException e)
        {
            throw new InvalidDataException($"A stored alarm cannot be read: {e.Message} It is: {json[..Math.Min(json.Length, 200)]}", e);
        }
    }
}

/// <summary>Serialisation of alarms without reflection.</summary>
[JsonSourceGenerationOptions(
    NumberHandling = JsonNumberHandling.AllowNamedFloatingPointLiterals,
    DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    PropertyNamingPolicy = JsonKnownNamingPolicy.SnakeCaseLower,
    UseStringEnumConverter = true,
    IgnoreReadOnlyProperties = true)]
[JsonSerializable(typeof(Alarm))]
[JsonSerializable(typeof(IReadOnlyList<long>))]
internal sealed partial class AlarmJsonContext : JsonSerializerContext;
