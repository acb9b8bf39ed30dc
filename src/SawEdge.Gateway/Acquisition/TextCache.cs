using System.Buffers.Binary;
using System.Text;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition;

/// <summary>
/// Gives the cleaned text for raw UTF-8 bytes, and the same instance for the same bytes as long as it is remembered, so
/// that a text that comes with each frame is decoded and cleaned once. Bounded: what it remembers gives way to what comes.
/// </summary>
public sealed class TextCache
{
    // A text of at most this many bytes is remembered: four bytes a character at most.
    private const int MaximumRemembered = ControllerText.MaximumLength * 4;

    private readonly Entry?[] _entries;

    /// <summary>Makes an empty cache.</summary>
    /// <param name="slots">Texts remembered at most; a power of two.</param>
    public TextCache(int slots = 256)
    {
        if (slots <= 0 || (slots & (slots - 1)) != 0)
            throw new ArgumentOutOfRangeException(nameof(slots), slots, "A power of two is needed.");
        _entries = new Entry?[slots];
    }

    /// <summary>The text, cleaned by <see cref="ControllerText.Clean"/>; empty where nothing is left of it.</summary>
    /// <param name="raw">Its bytes; those that are no UTF-8 are dropped.</param>
    public string Get(ReadOnlySpan<byte> raw)
    {
        if (raw.IsEmpty)
            return "";
        if (raw.Length > MaximumRemembered)
            return Decode(raw[..MaximumRemembered]);

        ref var entry = ref _entries[Hash(raw) & (uint)(_entries.Length - 1)];
        if (entry is not null && raw.SequenceEqual(entry.Raw))
            return entry.Text;

        var text = Decode(raw);
        entry = new Entry(raw.ToArray(), text);
        return text;
    }

    private static string Decode(ReadOnlySpan<byte> raw) => ControllerText.Clean(Encoding.UTF8.GetString(raw));

    private static uint Hash(ReadOnlySpan<byte> raw)
    {
        var hash = (ulong)raw.Length * 0x9E3779B97F4A7C15;
        while (raw.Length >= 8)
        {
            hash = (hash ^ BinaryPrimitives.ReadUInt64LittleEndian(raw)) * 0x9E3779B97F4A7C15;
            hash ^= hash >> 29;
            raw = raw[8..];
        }

        foreach (var b in raw)
            hash = (hash ^ b) * 0x100000001B3;
        hash ^= hash >> 32;
        return (uint)(hash ^ (hash >> 15));
    }

    private sealed record Entry(byte[] Raw, string Text);
}
