using System.Buffers.Binary;
using System.Text.Json;
using System.Text.Json.Serialization;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;

namespace SawEdge.Gateway.History;

/// <summary>Evidence as it is stored: everything but the profile.</summary>
internal sealed record EvidenceData
{
    /// <summary>The cycle as the frames showed it, without its profile.</summary>
    public required Cut Cut { get; init; }

    /// <summary>The texts of the job's row.</summary>
    public IReadOnlyDictionary<string, string>? Job { get; init; }

    /// <summary>What the live watch found; null: nothing.</summary>
    public IReadOnlyList<LiveFinding>? Findings { get; init; }

    /// <summary>The blade that the configuration named; null: none.</summary>
    public string? Blade { get; init; }
}

/// <summary>Serialisation of evidence and assessments without reflection. A double comes back bit for bit, a time to 100 ns.</summary>
[JsonSourceGenerationOptions(
    NumberHandling = JsonNumberHandling.AllowNamedFloatingPointLiterals,
    DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    IgnoreReadOnlyProperties = true,
    Converters = [typeof(FloatListConverter)])]
[JsonSerializable(typeof(EvidenceData))]
[JsonSerializable(typeof(LoadAssessment))]
internal sealed partial class HistoryJson : JsonSerializerContext;

/// <summary>A list of 32-bit floats as base64 of their little-endian bytes: short, and every bit comes back.</summary>
internal sealed class FloatListConverter : JsonConverter<IReadOnlyList<float>>
{
    /// <inheritdoc/>
    public override IReadOnlyList<float> Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options)
    {
        if (!reader.TryGetBytesFromBase64(out var data) || data.Length % 4 != 0)
            throw new JsonException("A list of numbers is damaged.");
        var values = new float[data.Length / 4];
        for (var i = 0; i < values.Length; i++)
            values[i] = BinaryPrimitives.ReadSingleLittleEndian(data.AsSpan(4 * i));
        return values;
    }

    /// <inheritdoc/>
    public override void Write(Utf8JsonWriter writer, IReadOnlyList<float> value, JsonSerializerOptions options)
    {
        var data = new byte[4 * value.Count];
        for (var i = 0; i < value.Count; i++)
            BinaryPrimitives.WriteSingleLittleEndian(data.AsSpan(4 * i), value[i]);
        writer.WriteBase64StringValue(data);
    }
}
