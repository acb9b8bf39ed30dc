using System.Buffers.Binary;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>
/// Takes the present out of a zip archive, so that the same rows give the same bytes: each file in it is from 1 January 1980, the first day
/// that a zip archive knows. The archive is made inside the workbook's library, which cannot be told a time.
/// </summary>
/// <param name="stream">The real stream; left open.</param>
internal sealed class WorkbookStream(Stream stream) : ForwardStream(stream)
{
    // APPNOTE.TXT 4.3.7 and 4.3.12: signature, length without the name, and where the time (2 bytes) and the date (2 bytes) stand.
    private const uint LocalHeader = 0x04034B50;
    private const int LocalLength = 30;
    private const int LocalTime = 10;
    private const uint CentralHeader = 0x02014B50;
    private const int CentralLength = 46;
    private const int CentralTime = 12;

    // Year 0 (1980), month 1, day 1, at midnight.
    private const uint Beginning = (1 << 5 | 1) << 16;

    /// <inheritdoc/>
    public override ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
    {
        // The archive writes the fixed part of each header by itself; compressed bytes of just this length and beginning do not occur.
        if (buffer.Length is LocalLength or CentralLength)
        {
            var signature = BinaryPrimitives.ReadUInt32LittleEndian(buffer.Span);
            if ((buffer.Length, signature) is (LocalLength, LocalHeader) or (CentralLength, CentralHeader))
            {
                var header = buffer.ToArray();
                BinaryPrimitives.WriteUInt32LittleEndian(header.AsSpan(signature == LocalHeader ? LocalTime : CentralTime), Beginning);
                buffer = header;
            }
        }

        return base.WriteAsync(buffer, cancellationToken);
    }
}
