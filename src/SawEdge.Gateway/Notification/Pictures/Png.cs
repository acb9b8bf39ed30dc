using System.Buffers.Binary;
using System.IO.Compression;

namespace SawEdge.Gateway.Notification.Pictures;

/// <summary>Writes pictures in the PNG format (W3C, Portable Network Graphics, third edition), 8 bits for each of red, green and blue.</summary>
internal static class Png
{
    private static readonly uint[] CrcTable = MakeCrcTable();

    /// <summary>The file of a picture.</summary>
    /// <param name="width">Width, pixels.</param>
    /// <param name="height">Height, pixels.</param>
    /// <param name="rgb">Three bytes a pixel, row by row from the top.</param>
    public static byte[] Write(int width, int height, ReadOnlySpan<byte> rgb)
    {
        using var file = new MemoryStream();
        file.Write([0x89, (byte)'P', (byte)'N', (byte)'G', 0x0D, 0x0A, 0x1A, 0x0A]);
        Span<byte> header = stackalloc byte[13];
        BinaryPrimitives.WriteInt32BigEndian(header, width);
        BinaryPrimitives.WriteInt32BigEndian(header[4..], height);
        // 8 bits, truecolour, deflate, the standard filters, not interlaced.
        header[8] = 8;
        header[9] = 2;
        header[10..].Clear();
        Chunk(file, "IHDR"u8, header);
        Chunk(file, "IDAT"u8, Compress(width, height, rgb));
        Chunk(file, "IEND"u8, []);
        return file.ToArray();
    }

    private static byte[] Compress(int width, int height, ReadOnlySpan<byte> rgb)
    {
        using var data = new MemoryStream();
        using (var deflate = new ZLibStream(data, CompressionLevel.SmallestSize, leaveOpen: true))
        {
            var line = new byte[1 + (3 * width)];
            for (var y = 0; y < height; y++)
            {
                // Filter 2, "up": most rows are much like the one above.
                line[0] = 2;
                for (var i = 0; i < 3 * width; i++)
                    line[1 + i] = (byte)(rgb[(3 * width * y) + i] - (y == 0 ? 0 : rgb[(3 * width * (y - 1)) + i]));
                deflate.Write(line);
            }
        }

        return data.ToArray();
    }

    private static void Chunk(MemoryStream file, ReadOnlySpan<byte> type, ReadOnlySpan<byte> data)
    {
        Span<byte> number = stackalloc byte[4];
        BinaryPrimitives.WriteInt32BigEndian(number, data.Length);
        file.Write(number);
        file.Write(type);
        file.Write(data);
        BinaryPrimitives.WriteUInt32BigEndian(number, Crc(data, Crc(type, uint.MaxValue)) ^ uint.MaxValue);
        file.Write(number);
    }

    private static uint Crc(ReadOnlySpan<byte> data, uint crc)
    {
        foreach (var b in data)
            crc = CrcTable[(crc ^ b) & 0xFF] ^ (crc >> 8);
        return crc;
    }

    private static uint[] MakeCrcTable()
    {
        var table = new uint[256];
        for (var n = 0u; n < 256; n++)
        {
            var c = n;
            for (var k = 0; k < 8; k++)
                c = (c & 1) != 0 ? 0xEDB88320 ^ (c >> 1) : c >> 1;
            table[n] = c;
        }

        return table;
    }
}
