using System.Text.Json;
using System.Text.Json.Serialization;
using SawEdge.Core;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <summary>A pipeline's memory as versioned bytes.</summary>
internal static class MemoryCodec
{
    /// <summary>Version of the format; another version is not read but learned anew.</summary>
    public const int Version = 1;

    public static SawState Encode(PipelineMemory memory) =>
        new(Version, JsonSerializer.SerializeToUtf8Bytes(memory, MemoryJson.Default.PipelineMemory));

    /// <summary>Reads a memory.</summary>
    /// <exception cref="FormatException">The bytes are of another version or damaged.</exception>
    public static PipelineMemory Decode(SawState state)
    {
        if (state.Version != Version)
            throw new FormatException($"it has format {state.Version}, this program writes {Version}");
        try
        {
            return JsonSerializer.Deserialize(state.Data.Span, MemoryJson.Default.PipelineMemory) ?? throw new FormatException("it is empty");
        }
        catch (JsonException e)
        {
            throw new FormatException("it is damaged: " + e.Message, e);
        }
    }
}

/// <summary>Serialisation of a pipeline's memory without reflection.</summary>
[JsonSerializable(typeof(PipelineMemory))]
internal sealed partial class MemoryJson : JsonSerializerContext;
