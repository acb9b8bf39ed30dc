using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization.Metadata;
using SawEdge.Core;
using SawEdge.Core.Load;

namespace SawEdge.Gateway.History;

/// <summary>What a record was computed from, as bytes: version (1), then JSON. The profile is stored beside it, the job by the texts of its row.</summary>
internal static class EvidenceCodec
{
    private const byte Version = 1;

    /// <summary>The bytes of some evidence.</summary>
    /// <exception cref="ArgumentException">Its job was not read from a job list, so it could not be read back.</exception>
    public static byte[] Encode(CutEvidence evidence, string configuredBlade)
    {
        if (evidence.Job is { Written: null } job)
            throw new ArgumentException($"Job '{job.JobId}' was not read from a job list, so a cut of it cannot be kept for computing its record anew.", nameof(evidence));
        var data = new EvidenceData
        {
            Cut = evidence.Cut with { Profile = null },
            Job = evidence.Job?.Written,
            Findings = evidence.Findings.Count > 0 ? evidence.Findings : null,
            Blade = configuredBlade.Length > 0 ? configuredBlade : null,
        };
        return VersionedJson.Encode(Version, data, HistoryJson.Default.EvidenceData);
    }

    /// <summary>The evidence of some bytes.</summary>
    /// <exception cref="InvalidDataException">They are no evidence of a known version.</exception>
    public static EvidenceData Decode(ReadOnlySpan<byte> bytes) => VersionedJson.Decode(Version, bytes, HistoryJson.Default.EvidenceData, "evidence");

    /// <summary>Two things of some evidence, without reading the rest: the texts of the job's row as they are stored, and the time in feed holds, s.</summary>
    /// <exception cref="InvalidDataException">They are no evidence of a known version.</exception>
    public static (string? Job, double HoldSeconds) Gist(ReadOnlySpan<byte> bytes)
    {
        VersionedJson.RequireVersion(Version, bytes, "evidence");
        try
        {
            var (job, hold) = ((string?)null, 0.0);
            var json = new Utf8JsonReader(bytes[1..]);
            while (json.Read())
            {
                if (json.TokenType != JsonTokenType.PropertyName)
                    continue;
                if (json.CurrentDepth == 1 && json.ValueTextEquals(nameof(EvidenceData.Job)))
                {
                    json.Read();
                    var from = (int)json.TokenStartIndex;
                    json.Skip();
                    job = json.TokenType == JsonTokenType.Null ? null : Encoding.UTF8.GetString(bytes[(1 + from)..(1 + (int)json.BytesConsumed)]);
                }
                else if (json.CurrentDepth == 2 && json.ValueTextEquals(nameof(Core.Cycles.Cut.HoldSeconds)))
                {
                    json.Read();
                    hold = json.TokenType == JsonTokenType.Number ? json.GetDouble() : 0;
                }
            }

            return (job, hold);
        }
        catch (JsonException e)
        {
            throw new InvalidDataException($"Stored evidence is damaged: {e.Message}", e);
        }
    }
}

/// <summary>What the load score says of a cut, as bytes: version (1), then JSON with its lists of numbers as base64.</summary>
internal static class AssessmentCodec
{
    private const byte Version = 1;

    /// <summary>The bytes of an assessment.</summary>
    public static byte[] Encode(LoadAssessment assessment) => VersionedJson.Encode(Version, assessment, HistoryJson.Default.LoadAssessment);

    /// <summary>The assessment of some bytes.</summary>
    /// <exception cref="InvalidDataException">They are no assessment of a known version.</exception>
    public static LoadAssessment Decode(ReadOnlySpan<byte> bytes) => VersionedJson.Decode(Version, bytes, HistoryJson.Default.LoadAssessment, "assessment");
}

/// <summary>JSON behind one byte that states its version.</summary>
internal static class VersionedJson
{
    /// <summary>The bytes of a value.</summary>
    public static byte[] Encode<T>(byte version, T value, JsonTypeInfo<T> type)
    {
        using var bytes = new MemoryStream(1024);
        bytes.WriteByte(version);
        JsonSerializer.Serialize(bytes, value, type);
        return bytes.ToArray();
    }

    /// <summary>Sees to it that some bytes are of a version.</summary>
    /// <exception cref="InvalidDataException">They are of another.</exception>
    public static void RequireVersion(byte version, ReadOnlySpan<byte> bytes, string what)
    {
        if (bytes.IsEmpty || bytes[0] != version)
            throw new InvalidDataException(bytes.IsEmpty ? $"Stored {what} is empty." : $"Stored {what} has version {bytes[0]}; this program knows version {version}.");
    }

    /// <summary>The value of some bytes.</summary>
    /// <exception cref="InvalidDataException">They are of another version, or damaged.</exception>
    public static T Decode<T>(byte version, ReadOnlySpan<byte> bytes, JsonTypeInfo<T> type, string what)
    {
        RequireVersion(version, bytes, what);
        try
        {
            return JsonSerializer.Deserialize(bytes[1..], type) ?? throw new InvalidDataException($"Stored {what} holds nothing.");
        }
        catch (JsonException e)
        {
            throw new InvalidDataException($"Stored {what} is damaged: {e.Message}", e);
        }
    }
}
