using System.Buffers;
using System.IO.Compression;

namespace SawEdge.Gateway.Formats.Tables;

/// <summary>Gathers text and sends it on in pieces, compressed or not.</summary>
internal sealed class TextSink(Stream stream, bool isCompressed) : IAsyncDisposable
{
    private const int SentAtBytes = 64 * 1024;

    private readonly GZipStream? _gzip = isCompressed ? new GZipStream(stream, CompressionLevel.Optimal, leaveOpen: true) : null;

    /// <summary>What was not sent yet.</summary>
    public ArrayBufferWriter<byte> Buffer { get; } = new(2 * SentAtBytes);

    /// <summary>Whether it is time to send.</summary>
    public bool IsFull => Buffer.WrittenCount >= SentAtBytes;

    /// <summary>Sends what was gathered.</summary>
    public async Task SendAsync(CancellationToken cancellation)
    {
        await (_gzip ?? stream).WriteAsync(Buffer.WrittenMemory, cancellation);
        Buffer.ResetWrittenCount();
    }

    /// <summary>Sends the rest and what ends the compressed stream.</summary>
    public async Task FinishAsync(CancellationToken cancellation)
    {
        await SendAsync(cancellation);
        if (_gzip is not null)
            await _gzip.DisposeAsync();
        await stream.FlushAsync(cancellation);
    }

    /// <summary>Lets go; what was not sent is lost.</summary>
    public ValueTask DisposeAsync() => default;
}
