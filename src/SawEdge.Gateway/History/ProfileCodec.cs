using System.Buffers.Binary;
using SawEdge.Core.Cycles;

namespace SawEdge.Gateway.History;

/// <summary>
/// A profile as bytes: version (1), basis (1), number of bins (2), depth in mm (8), then seconds, loads and speeds as
/// 32-bit floats, all little-endian. 48 bins take 588 bytes, and every value comes back bit for bit.
/// </summary>
internal static class ProfileCodec
{
    private const byte Version = 1;
    private const int HeaderBytes = 12;

    /// <summary>The profile's bytes.</summary>
    /// <exception cref="ArgumentException">Its lists differ in length or are too long.</exception>
    public static byte[] Encode(DepthProfile profile)
    {
        var bins = profile.Seconds.Count;
        if (profile.MeanLoadKw.Count != bins || profile.MeanBladeSpeedMMin.Count != bins || bins > ushort.MaxValue)
            throw new ArgumentException($"A profile's lists have one length, at most {ushort.MaxValue}; these have {bins}, {profile.MeanLoadKw.Count} and {profile.MeanBladeSpeedMMin.Count}.", nameof(profile));

        var data = new byte[HeaderBytes + (3 * 4 * bins)];
        data[0] = Version;
        data[1] = (byte)profile.Basis;
        BinaryPrimitives.WriteUInt16LittleEndian(data.AsSpan(2), (ushort)bins);
        BinaryPrimitives.WriteDoubleLittleEndian(data.AsSpan(4), profile.DepthMm);
        var at = HeaderBytes;
        foreach (var list in (ReadOnlySpan<IReadOnlyList<float>>)[profile.Seconds, profile.MeanLoadKw, profile.MeanBladeSpeedMMin])
        {
            for (var i = 0; i < bins; i++, at += 4)
                BinaryPrimitives.WriteSingleLittleEndian(data.AsSpan(at), list[i]);
        }

        return data;
    }

    /// <summary>The profile of some bytes.</summary>
    /// <exception cref="InvalidDataException">They are no profile of a known version.</exception>
    public static DepthProfile Decode(ReadOnlySpan<byte> data)
    {
        if (data.Length < HeaderBytes || data[0] != Version)
            throw new InvalidDataException(data.IsEmpty ? "A stored profile is empty." : $"A stored profile has version {data[0]} and {data.Length} bytes; this program knows version {Version}.");
        if (data[1] > (byte)ProfileBasis.TimeShare)
            throw new InvalidDataException($"A stored profile has basis {data[1]}, which this program does not know.");
        var bins = BinaryPrimitives.ReadUInt16LittleEndian(data[2..]);
        if (data.Length != HeaderBytes + (3 * 4 * bins))
            throw new InvalidDataException($"A stored profile of {bins} bins has {data.Length} bytes instead of {HeaderBytes + (3 * 4 * bins)}.");

        var lists = data[HeaderBytes..];
        return new DepthProfile(
            (ProfileBasis)data[1],
            BinaryPrimitives.ReadDoubleLittleEndian(data[4..]),
            Floats(lists[..(4 * bins)]),
            Floats(lists.Slice(4 * bins, 4 * bins)),
            Floats(lists[(8 * bins)..]));
    }

    private static float[] Floats(ReadOnlySpan<byte> data)
    {
        var values = new float[data.Length / 4];
        for (var i = 0; i < values.Length; i++)
            values[i] = BinaryPrimitives.ReadSingleLittleEndian(data[(4 * i)..]);
        return values;
    }
}
