using System.Buffers.Binary;
using System.IO.Compression;
using System.Text.Json;
using System.Text.Json.Serialization;
using SawEdge.Core;
using SawEdge.Core.Cutting;
using SawEdge.Core.Cycles;
using SawEdge.Core.Load;
using SawEdge.Gateway.History;

namespace SawEdge.Gateway.Processing;

/// <summary>What the processing of a saw carries across a restart.</summary>
internal sealed record SavedMemory
{
    /// <summary>What the detector learned.</summary>
    public required DetectorMemory Detector { get; init; }

    /// <summary>End of the last cycle that was handed out.</summary>
    public DateTimeOffset? LastCycleEnd { get; init; }

    /// <summary>What the live watch learned.</summary>
    public LiveWatchMemory Watch { get; init; } = new();

    /// <summary>What the recorder learned; null where it cannot be used as it is and is to be computed anew from the history.</summary>
    public RecorderMemory? Recorder { get; init; }

    /// <summary>Why <see cref="Recorder"/> cannot be used; empty where it can.</summary>
    public string Unusable { get; init; } = "";

    /// <summary>The latest entry about blades that the recorder knew, see <see cref="StoredBladeEntries.Last"/>.</summary>
    public long Entries { get; init; }

    /// <summary>Cycles since the last checkpoint.</summary>
    public int SinceCheckpoint { get; init; }

    /// <summary>The clock of the frames; null: it cannot be gone by any more.</summary>
    public SavedClock? Clock { get; init; }

    /// <summary>The pipeline's memory, with a recorder that knows nothing.</summary>
    public PipelineMemory WithoutRecorder => new() { Detector = Detector, LastCycleEnd = LastCycleEnd, Watch = Watch };
}

/// <summary>The clock of a saw's frames, for the process that goes on after this one.</summary>
/// <param name="Boot">From when its timestamps count, see <see cref="Acquisition.FrameClock.Boot"/>.</param>
/// <param name="Zero">The moment of timestamp 0, by that clock.</param>
internal sealed record SavedClock(string Boot, DateTimeOffset Zero);

/// <summary>
/// A saw's memory as versioned bytes: the length of a head, the head (JSON), and what the recorder learned (JSON). Two parts, so
/// that what the detector learned outlives a new way of computing the load score.
/// </summary>
internal static class MemoryCodec
{
    /// <summary>Version of the format; of another version only what the detector learned is taken over, where that can be read.</summary>
    public const int Version = 2;

    /// <summary>Version of checkpoints: they hold for one format and one way of computing.</summary>
    public const int CheckpointVersion = (LoadAssessment.Algorithm * 100) + Version;

    /// <summary>The bytes of a memory.</summary>
    /// <param name="memory">What the pipeline learned.</param>
    /// <param name="entries">The latest entry about blades that it knew.</param>
    /// <param name="sinceCheckpoint">Cycles since the last checkpoint.</param>
    /// <param name="clock">The clock of the frames; null: a process that goes on cannot go by it.</param>
    public static SawState Encode(PipelineMemory memory, long entries, int sinceCheckpoint, SavedClock? clock = null)
    {
        using var bytes = new MemoryStream(4096);
        bytes.Write(stackalloc byte[4]);
        var head = new MemoryHead(LoadAssessment.Algorithm, entries, sinceCheckpoint, memory.Detector, memory.LastCycleEnd, memory.Watch, clock);
        JsonSerializer.Serialize(bytes, head, MemoryJson.Default.MemoryHead);
        var length = (int)bytes.Length - 4;
        JsonSerializer.Serialize(bytes, memory.Recorder, MemoryJson.Default.RecorderMemory);
        var data = bytes.ToArray();
        BinaryPrimitives.WriteInt32LittleEndian(data, length);
        return new SawState(Version, data);
    }

    /// <summary>Reads a memory.</summary>
    /// <exception cref="FormatException">Not even what the detector learned can be read.</exception>
    public static SavedMemory Decode(SawState state)
    {
        try
        {
            return state.Version switch
            {
                Version => Decode(state.Data.Span),
                1 => DecodeFirst(state.Data.Span),
                _ => throw new FormatException($"it has format {state.Version}, this program writes {Version}"),
            };
        }
        catch (JsonException e)
        {
            throw new FormatException("it is damaged: " + e.Message, e);
        }
    }

    /// <summary>What a recorder learned as a checkpoint.</summary>
    public static SawState EncodeCheckpoint(RecorderMemory memory)
    {
        using var bytes = new MemoryStream(4096);
        using (var packed = new BrotliStream(bytes, CompressionLevel.Fastest, leaveOpen: true))
            JsonSerializer.Serialize(packed, memory, MemoryJson.Default.RecorderMemory);
        return new SawState(CheckpointVersion, bytes.ToArray());
    }

    /// <summary>Reads a checkpoint.</summary>
    /// <exception cref="FormatException">The bytes are of another version or damaged.</exception>
    public static RecorderMemory DecodeCheckpoint(SawState state)
    {
        if (state.Version != CheckpointVersion)
            throw new FormatException($"a checkpoint has version {state.Version}, this program writes {CheckpointVersion}");
        try
        {
            using var packed = new BrotliStream(new MemoryStream(state.Data.ToArray()), CompressionMode.Decompress);
            var memory = JsonSerializer.Deserialize(packed, MemoryJson.Default.RecorderMemory) ?? throw new FormatException("a checkpoint is empty");
            return IsWhole(memory) ? memory : throw new FormatException("a checkpoint lacks a part");
        }
        catch (Exception e) when (e is JsonException or InvalidDataException or InvalidOperationException)
        {
            throw new FormatException("a checkpoint is damaged: " + e.Message, e);
        }
    }

    private static SavedMemory Decode(ReadOnlySpan<byte> data)
    {
        var length = data.Length < 4 ? -1 : BinaryPrimitives.ReadInt32LittleEndian(data);
        if (length < 0 || length > data.Length - 4)
            throw new FormatException("it is damaged: it is shorter than it says");
        var head = JsonSerializer.Deserialize(data.Slice(4, length), MemoryJson.Default.MemoryHead) ?? throw new FormatException("it is empty");
        var (recorder, unusable) = head.Algorithm == LoadAssessment.Algorithm
            ? Recorder(data[(4 + length)..])
            : (null, $"the load score is computed in way {LoadAssessment.Algorithm} now, and was in way {head.Algorithm}");
        return new SavedMemory
        {
            Detector = Whole(head.Detector),
            LastCycleEnd = head.LastCycleEnd,
            Watch = head.Watch is { } watch ? watch with { Jobs = watch.Jobs ?? [] } : new LiveWatchMemory(),
            Recorder = recorder,
            Unusable = unusable,
            Entries = head.Entries,
            SinceCheckpoint = head.SinceCheckpoint,
            Clock = head.Clock is { Boot.Length: > 0 } ? head.Clock : null,
        };
    }

    private static (RecorderMemory? Memory, string Unusable) Recorder(ReadOnlySpan<byte> data)
    {
        try
        {
            return JsonSerializer.Deserialize(data, MemoryJson.Default.RecorderMemory) switch
            {
                null => (null, "what was learned is empty"),
                { } memory when !IsWhole(memory) => (null, "what was learned lacks a part"),
                { } memory => (memory, ""),
            };
        }
        catch (JsonException e)
        {
            return (null, "what was learned is damaged: " + e.Message);
        }
    }

    // Format 1 knew cut times, and there was no evidence from which they could be computed anew.
    private static SavedMemory DecodeFirst(ReadOnlySpan<byte> data)
    {
        var old = JsonSerializer.Deserialize(data, MemoryJson.Default.FirstMemory) ?? throw new FormatException("it is empty");
        return new SavedMemory
        {
            Detector = Whole(old.Detector),
            LastCycleEnd = old.LastCycleEnd,
            Recorder = new RecorderMemory { Learned = old.Learned ?? new LearnedState([], []) },
        };
    }

    // What is not written reads as null, whatever the types say: the reader knows no initialisers.
    private static DetectorMemory Whole(DetectorMemory? memory) => memory is null
        ? throw new FormatException("it is damaged: it lacks what the detector learned")
        : memory with { UsualJob = memory.UsualJob ?? "", Mode = memory.Mode ?? "", Job = memory.Job ?? "", BarId = memory.BarId ?? "" };

    private static bool IsWhole(RecorderMemory memory) => memory is { Learned: { Kinds: not null, Jobs: not null }, Blades: not null, Load: not null };
}

/// <summary>The head of a saw's memory.</summary>
internal sealed record MemoryHead(int Algorithm, long Entries, int SinceCheckpoint, DetectorMemory? Detector, DateTimeOffset? LastCycleEnd, LiveWatchMemory? Watch, SavedClock? Clock);

/// <summary>A saw's memory in format 1.</summary>
internal sealed record FirstMemory(DetectorMemory? Detector, DateTimeOffset? LastCycleEnd, LearnedState? Learned);

/// <summary>Serialisation of a saw's memory without reflection.</summary>
[JsonSourceGenerationOptions(
    NumberHandling = JsonNumberHandling.AllowNamedFloatingPointLiterals,
    DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
    IgnoreReadOnlyProperties = true,
    Converters = [typeof(FloatListConverter)])]
[JsonSerializable(typeof(MemoryHead))]
[JsonSerializable(typeof(RecorderMemory))]
[JsonSerializable(typeof(FirstMemory))]
internal sealed partial class MemoryJson : JsonSerializerContext;
