using System.Text.Json;
using System.Text.Json.Serialization;

namespace SawEdge.Gateway.History;

/// <summary>Reports about the gateway's health as JSON. Members of a later version are passed over, those of an earlier one are not known.</summary>
internal static class HealthJson
{
    private static readonly JsonSerializerOptions Form = new()
    {
        PropertyNamingPolicy = JsonNamingPolicy.SnakeCaseLower,
        DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingDefault,
    };

    /// <summary>Writes a report.</summary>
    public static string Write(HealthReport report) => JsonSerializer.Serialize(report, Form);

    /// <summary>Reads one.</summary>
    /// <exception cref="InvalidDataException">It is none.</exception>
    public static HealthReport Read(string text)
    {
        try
        {
            return JsonSerializer.Deserialize<HealthReport>(text, Form) ?? throw new InvalidDataException("A stored report about the gateway's health is empty.");
        }
        catch (JsonException e)
        {
            throw new InvalidDataException($"A stored report about the gateway's health cannot be read: {e.Message}", e);
        }
    }
}
