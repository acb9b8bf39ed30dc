using System.Text.Json;
using System.Text.Json.Serialization;

namespace SawEdge.Core.Alarms;

/// <summary>How what the alarms remember is written.</summary>
internal static class AlarmJson
{
    /// <summary>Short, and with numbers that are not known.</summary>
    public static readonly JsonSerializerOptions Options = new()
    {
        NumberHandling = JsonNumberHandling.AllowNamedFloatingPointLiterals,
        RespectNullableAnnotations = true,
        RespectRequiredConstructorParameters = true,
        IgnoreReadOnlyProperties = true,
    };

    /// <summary>Reads what was saved.</summary>
    /// <param name="saved">What was saved.</param>
    /// <param name="what">Whose memory it is.</param>
    /// <exception cref="FormatException">It is nothing that was saved.</exception>
    public static T Read<T>(string saved, string what)
        where T : class
    {
        try
        {
            return JsonSerializer.Deserialize<T>(saved, Options) ?? throw new FormatException($"The memory of the {what} is empty.");
        }
        catch (JsonException e)
        {
            throw new FormatException($"The memory of the {what} cannot be read: {e.Message}", e);
        }
    }

    /// <summary>Sees that nothing is missing in a list.</summary>
    /// <exception cref="FormatException">Something is.</exception>
    public static IReadOnlyList<T> Whole<T>(this IReadOnlyList<T>? list)
        where T : class => list is null || list.Contains(null!) ? throw new FormatException("The memory of the alarms has a hole.") : list;
}
